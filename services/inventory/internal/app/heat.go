package app

import (
	"context"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	"barrelhead.example/services/inventory/internal/domain/heat"
	"barrelhead.example/services/inventory/internal/domain/lots"
	"barrelhead.example/services/inventory/internal/domain/stock"
	"barrelhead.example/services/inventory/internal/present"
	"barrelhead.example/services/kit/feed"
	"barrelhead.example/services/kit/pg"
)

// Heats is where temperature logs are kept.
type Heats interface {
	// LockStay keeps others from recording for a stay or allowing it, and answers what it is and what it warms: nothing, before its first
	// readings.
	LockStay(ctx context.Context, q pg.Querier, id string) (heat.Stay, []lots.Place, error)
	// OpenStay enters a stay with what it warms.
	OpenStay(ctx context.Context, q pg.Querier, stay heat.Stay, warmed []lots.Place, now time.Time) error
	AddAllowance(ctx context.Context, q pg.Querier, a heat.Allowance) error
	// Allowances lists those of a stay, or of all where it is empty, numbered below before, the newest first.
	Allowances(ctx context.Context, q pg.Querier, stay string, before int64, limit int) ([]heat.Allowance, error)
	// AddReadings leaves out those that are there already; it fails with *ExistsError where one says another temperature.
	AddReadings(ctx context.Context, q pg.Querier, l heat.Log, recorder string, now time.Time) error
	// HeatLogs reads every log of some places, by stay and probe.
	HeatLogs(ctx context.Context, q pg.Querier, places []lots.Place) (map[lots.Place][]heat.Log, error)
	// Inflows adds up what was poured into a place, by where it came from.
	Inflows(ctx context.Context, q pg.Querier, place lots.Place) ([]lots.Part, error)
}

// RecordTemperatures is readings of one probe.
type RecordTemperatures struct {
	Log    heat.Log
	Warmed []lots.Place
	// Limit is the warmest the stay is meant to be; nil takes what was said before, or the house's.
	Limit *heat.Celsius
	Actor string
	// Logger is whether the actor is a device, which opens no stay.
	Logger bool
}

// Warmth is what warming cost a fill.
type Warmth struct {
	Place lots.Place
	heat.Account
}

// RecordTemperatures appends readings, reckons anew and holds what another person must look at: see heat.Alarm.Holds.
func (a *App) RecordTemperatures(ctx context.Context, tx pgx.Tx, c RecordTemperatures) ([]Warmth, []feed.Fact, error) {
	w := a.work(ctx, tx, c.Actor)
	if err := a.Stock.LockFlow(ctx, tx); err != nil {
		return nil, nil, err
	}
	if err := w.lockWarmed(c.Warmed); err != nil {
		return nil, nil, err
	}
	now, name := a.now(), stayName(c.Log.ID)
	stay, warmed, err := w.openStay(c)
	if err != nil {
		return nil, nil, err
	}
	if c.Limit != nil && *c.Limit != stay.Limit {
		return nil, nil, &stock.StateError{Resource: name, State: "LIMITED", Action: "given another limit than " + stay.Limit.String() + " °C: begin another stay"}
	}
	if !slices.Equal(slices.Sorted(slices.Values(warmed)), slices.Sorted(slices.Values(c.Warmed))) {
		return nil, nil, &stock.StateError{Resource: name, State: "WARMS_OTHERS", Action: "said to warm other barrels than before: begin another stay"}
	}
	if err := a.Lots.AddReadings(ctx, tx, c.Log, c.Actor, now); err != nil {
		return nil, nil, err
	}
	var out []Warmth
	fact := &inventoryv1.TemperaturesRecorded{Stay: name, Probe: c.Log.Probe, Readings: int32(len(c.Log.Readings))} //nolint:gosec // at most 1000
	for _, place := range c.Warmed {
		one, err := a.warmth(ctx, tx, place)
		if err != nil {
			return nil, nil, err
		}
		if err := w.holdHeated(one); err != nil {
			return nil, nil, err
		}
		out, fact.Heats = append(out, one), append(fact.Heats, present.Heat(string(place), one.Account))
	}
	return out, append(w.facts, feed.Fact{Aggregate: name, OccurTime: now, Payload: fact}), nil
}

// openStay locks a stay and enters it with its limit, if these are its first readings.
func (w *work) openStay(c RecordTemperatures) (heat.Stay, []lots.Place, error) {
	stay, warmed, err := w.Lots.LockStay(w.ctx, w.tx, c.Log.ID)
	if err != nil || len(warmed) > 0 {
		return stay, warmed, err
	}
	if c.Logger {
		return stay, nil, &heat.UnopenedError{Stay: c.Log.ID}
	}
	stay.Limit, stay.Opener = heat.RoomLimit, c.Actor
	if c.Limit != nil {
		stay.Limit = *c.Limit
	}
	if err := stay.Open(); err != nil {
		return stay, nil, err //nolint:wrapcheck // says what is missing
	}
	return stay, c.Warmed, w.Lots.OpenStay(w.ctx, w.tx, stay, c.Warmed, w.now())
}

func stayName(id string) string { return "heatStays/" + id }

// AllowHeat is the word of a person that a stay may be scalding hot. It counts for a stay that somebody else opens.
func (a *App) AllowHeat(ctx context.Context, tx pgx.Tx, given heat.Allowance) (heat.Allowance, []feed.Fact, error) {
	_, warmed, err := a.Lots.LockStay(ctx, tx, given.Stay)
	if err != nil {
		return given, nil, err
	}
	if len(warmed) > 0 {
		return given, nil, &stock.StateError{Resource: stayName(given.Stay), State: "BEGUN", Action: "allowed to be hotter afterwards: begin another stay"}
	}
	given.ID, given.Time = uuid.New(), a.now()
	if err := a.Lots.AddAllowance(ctx, tx, given); err != nil {
		return given, nil, err
	}
	return given, []feed.Fact{{Aggregate: stayName(given.Stay), OccurTime: given.Time, Payload: &inventoryv1.HeatAllowed{Allowance: present.HeatAllowance(given)}}}, nil
}

// lockWarmed takes the locks by id, in one order for everybody.
func (w *work) lockWarmed(places []lots.Place) error {
	for _, p := range slices.Sorted(slices.Values(places)) {
		id, err := uuid.Parse(p.ID())
		if err != nil {
			return &stock.NotFoundError{Resource: string(p)}
		}
		if p.Kind() == lots.Charge {
			_, err = w.charge(id)
		} else {
			_, err = w.Stock.Lock(w.ctx, w.tx, id)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// holdHeated holds a barrel or a charge once for every hole in its logs, since only a measurement of HMF can tell, and for every time
// it was scalding hot and nobody had allowed it: whoever knows better releases the hold and says why.
func (w *work) holdHeated(one Warmth) error {
	if !slices.ContainsFunc(one.Alarms, heat.Alarm.Holds) {
		return nil
	}
	id, err := uuid.Parse(one.Place.ID())
	if err != nil {
		return &stock.NotFoundError{Resource: string(one.Place)}
	}
	if one.Place.Kind() == lots.Barrel {
		if item, err := w.Stock.Item(w.ctx, w.tx, id); err != nil || item.State == stock.Withdrawn {
			return err
		}
	}
	for _, alarm := range one.Alarms {
		if !alarm.Holds() {
			continue
		}
		why := "heat unknown: "
		if alarm.Kind == heat.Scald {
			why = "too hot: "
		}
		facts, err := w.AddHold(w.ctx, w.tx, stock.Hold{
			ID: heat.HoldID(string(one.Place), alarm), Kind: string(one.Place.Kind()), Barrel: id, Code: stock.Quality,
			Reason: why + alarm.Sentence, Placer: stock.House, Time: w.now(),
		})
		if err != nil {
			return err
		}
		w.facts = append(w.facts, facts...)
	}
	return nil
}

// Temperatures reads the logs of a barrel or a charge.
func (a *App) Temperatures(ctx context.Context, place lots.Place) ([]heat.Log, error) {
	if err := a.exists(ctx, a.DB.Pool(), place); err != nil {
		return nil, err
	}
	logs, err := a.Lots.HeatLogs(ctx, a.DB.Pool(), []lots.Place{place})
	return logs[place], err
}

// Heat reads what warming cost a barrel or a charge.
func (a *App) Heat(ctx context.Context, place lots.Place) (Warmth, error) {
	if err := a.exists(ctx, a.DB.Pool(), place); err != nil {
		return Warmth{}, err
	}
	return a.warmth(ctx, a.DB.Pool(), place)
}

func (a *App) warmth(ctx context.Context, q pg.Querier, place lots.Place) (Warmth, error) {
	found, err := a.account(ctx, q, place, &sources{way: map[lots.Place]bool{}, known: map[lots.Place]brought{}})
	return Warmth{place, found.Account}, err
}

// brought is what warming cost a place, with what went into it.
type brought struct {
	heat.Account
	// round reports that all of it is on its way back to where it is asked for: it brings nothing new, and would only thin that.
	round bool
}

// sources are the places a search has come through: those on the way to where it is now, and what is known of others.
type sources struct {
	way   map[lots.Place]bool
	known map[lots.Place]brought
}

// account reckons what warming cost a place, with what it brought along: a container the barrel it was filled from, a charge the
// barrels and charges that went in, and what was poured back out of a lot or came back from a customer. What was pumped in a circle
// counts once.
func (a *App) account(ctx context.Context, q pg.Querier, place lots.Place, s *sources) (brought, error) {
	if known, is := s.known[place]; is {
		return known, nil
	}
	s.way[place] = true
	defer delete(s.way, place)
	logs, err := a.Lots.HeatLogs(ctx, q, []lots.Place{place})
	if err != nil {
		return brought{}, err
	}
	inflows, err := a.Lots.Inflows(ctx, q, place)
	if err != nil {
		return brought{}, err
	}
	var parts []heat.Part
	for _, in := range inflows {
		if s.way[in.Place] || len(s.known)+len(s.way) > mostHeatSources {
			continue
		}
		part, err := a.account(ctx, q, in.Place, s)
		if err != nil {
			return brought{}, err
		}
		if !part.round {
			parts = append(parts, heat.Part{Name: string(in.Place), Mass: in.Mass, Account: part.Account})
		}
	}
	total, err := heat.Total(logs[place]).Carry(parts)
	s.known[place] = brought{Account: total, round: len(inflows) > 0 && len(parts) == 0 && len(logs[place]) == 0}
	return s.known[place], err //nolint:wrapcheck // names the part
}

// mostHeatSources bounds the search in a house whose tanks are never emptied: what is that far back is diluted to nothing.
const mostHeatSources = 400

package rpc

import (
	"context"
	"errors"
	"fmt"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/types/known/timestamppb"

	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/intake/internal/app"
	"barrelhead.example/services/intake/internal/indicator"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/pg"
	"barrelhead.example/services/kit/wire"
)

const (
	// lookEvery is how often a watched scale is looked at: faster than anybody reads, slow enough for a phone.
	lookEvery = 100 * time.Millisecond
	// repeatEvery tells a watcher that nothing changed, as opposed to nothing arriving.
	repeatEvery = time.Second
)

var errStopping = errors.New("the service is stopping")

// IndicatorServer implements IndicatorService.
type IndicatorServer struct {
	intakev1.UnsafeIndicatorServiceServer
	app      *app.App
	db       *pg.DB
	readers  indicator.Set
	draining func(context.Context) <-chan struct{}
}

// NewIndicator serves what readers read. Streams end when the channel that draining gives for their context is closed.
func NewIndicator(a *app.App, db *pg.DB, readers indicator.Set, draining func(context.Context) <-chan struct{}) *IndicatorServer {
	return &IndicatorServer{app: a, db: db, readers: readers, draining: draining}
}

// GetIndication shows what a scale shows now.
func (s *IndicatorServer) GetIndication(ctx context.Context, req *intakev1.GetIndicationRequest) (*intakev1.Indication, error) {
	m, err := s.meter(ctx, req.GetScale())
	if err != nil {
		return nil, err
	}
	return s.write(m, m.latest()), nil
}

// WatchIndication streams what a scale shows.
func (s *IndicatorServer) WatchIndication(req *intakev1.WatchIndicationRequest, stream grpc.ServerStreamingServer[intakev1.Indication]) error {
	ctx := stream.Context()
	m, err := s.meter(ctx, req.GetScale())
	if err != nil {
		return err
	}
	ticker := time.NewTicker(lookEvery)
	defer ticker.Stop()
	var told indicator.Indication
	for looks := 0; ; looks++ {
		shown := m.latest()
		if looks == 0 || looks == int(repeatEvery/lookEvery) || changed(told, shown) {
			if err := stream.Send(s.write(m, shown)); err != nil {
				return err
			}
			told, looks = shown, 0
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-s.draining(ctx):
			return apierr.Unavailable(errStopping)
		case <-ticker.C:
		}
	}
}

// changed leaves out when it arrived: the same line again is no news.
func changed(a, b indicator.Indication) bool {
	a.ReceiveTime, a.StableSince, a.MovedTime = b.ReceiveTime, b.StableSince, b.MovedTime
	return a != b
}

// meter is a scale with an indicator.
type meter struct {
	id     string
	limits indicator.Limits
	reader *indicator.Reader
}

func (s *IndicatorServer) meter(ctx context.Context, name string) (meter, error) {
	var f fields
	id := f.scale(name)
	if err := f.err(); err != nil {
		return meter{}, err
	}
	scale, err := s.app.IndicatedScale(ctx, s.db.Pool(), id)
	if err != nil {
		return meter{}, err
	}
	reader, connected := s.readers[id]
	if !connected {
		return meter{}, apierr.State(name, "NO_INDICATOR", fmt.Sprintf("scale %s has no indicator connected: read the weight off it and type "+
			"it, with the reason", id))
	}
	return meter{id, indicator.Limits{Division: scale.Division, Most: scale.Most(), Unit: s.app.Unit}, reader}, nil
}

func (m meter) latest() indicator.Indication { return m.reader.Latest().Within(m.limits) }

func (m meter) name() string { return "scales/" + m.id }

// refuse says why an indication cannot be captured.
func (m meter) refuse(i indicator.Indication, now time.Time) error {
	message := fmt.Sprintf("scale %s %s", m.id, i.Message)
	metadata := map[string]string{"resource": m.name(), "scale": m.name(), "state": string(i.State), "indication": i.Raw}
	switch i.State {
	case indicator.Moving:
		return apierr.Reason(errorv1.Reason_REASON_UNSTABLE_READING, message, metadata)
	case indicator.Stable:
		message = fmt.Sprintf("scale %s sent its last line %d ms ago, which is too old: take the weight again", m.id, now.Sub(i.ReceiveTime).Milliseconds())
		return apierr.Reason(errorv1.Reason_REASON_UNAVAILABLE, message, metadata)
	case indicator.Disconnected, indicator.Silent, indicator.Unreadable, indicator.Stuck:
		return apierr.Reason(errorv1.Reason_REASON_UNAVAILABLE, message, metadata)
	default:
		return apierr.Reason(errorv1.Reason_REASON_STATE_FORBIDS, message, metadata)
	}
}

func (s *IndicatorServer) write(m meter, i indicator.Indication) *intakev1.Indication {
	out := &intakev1.Indication{
		Scale: m.name(), State: intakev1.IndicationState(intakev1.IndicationState_value["INDICATION_STATE_"+string(i.State)]),
		Message: fmt.Sprintf("scale %s %s", m.id, i.Message), RawIndication: i.Raw,
	}
	if i.Weighed {
		out.Weight = wire.MassToProto(i.Weight, s.app.Unit)
	}
	if !i.ReceiveTime.IsZero() {
		out.ReceiveTime = timestamppb.New(i.ReceiveTime)
		out.AgeMilliseconds = max(0, s.app.Clock.Now().Sub(i.ReceiveTime).Milliseconds())
	}
	if !i.StableSince.IsZero() {
		out.StableSinceTime = timestamppb.New(i.StableSince)
	}
	return out
}

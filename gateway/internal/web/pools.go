package web

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func (s *site) pools(v *visit) (view, error) {
	found, err := s.settlement.ListPools(v.ctx, &settlementv1.ListPoolsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return view{}, err
	}
	return view{page: "pools", title: "Pools", data: map[string]any{
		"Pools": found.GetPools(), "Next": nextPage(v, found.GetNextPageToken()), "MayOpen": v.mayCall(openPool),
	}}, nil
}

// newPool opens a pool with the differentials of its classes.
func (s *site) newPool(v *visit) (view, error) {
	f := v.form()
	if v.posted {
		pool := s.typedPool(f)
		if f.Problem == "" {
			made, err := s.settlement.OpenPool(v.ctx, &settlementv1.OpenPoolRequest{RequestId: f.RequestID, Pool: pool})
			if err == nil {
				return view{goTo: "/pools/" + idOf(made.GetName())}, nil
			}
			if !f.refused(v, err) {
				return view{}, err
			}
		}
	}
	return view{page: "newpool", title: "Open a pool", data: map[string]any{"Form": f}}, nil
}

func (s *site) typedPool(f *form) *settlementv1.Pool {
	year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	pool := &settlementv1.Pool{CropYear: int32(year), Title: f.Value("title")}
	for variety := range strings.SplitSeq(f.Value("varieties"), ",") {
		if variety = strings.ToLower(strings.TrimSpace(variety)); variety != "" {
			pool.Varieties = append(pool.Varieties, variety)
		}
	}
	for n, cells := range linesOf(f.Value("differentials")) {
		if len(cells) != 4 {
			f.badLine("differentials", n, "source, colour, grade and amount")
			continue
		}
		variety := strings.ToLower(cells[0])
		if variety == "any" || variety == "*" {
			variety = ""
		}
		pool.Differentials = append(pool.Differentials, &settlementv1.Differential{
			Variety: variety, ColorClass: strings.ReplaceAll(strings.ToUpper(cells[1]), " ", "_"), Grade: strings.ToUpper(cells[2]), Amount: s.typedPrice(cells[3]),
		})
	}
	return pool
}

func (s *site) pool(v *visit) (view, error) {
	name := "pools/" + v.PathValue("id")
	pool, err := s.settlement.GetPool(v.ctx, &settlementv1.GetPoolRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	entries, err := s.settlement.ListPoolEntries(v.ctx, &settlementv1.ListPoolEntriesRequest{Pool: name, PageSize: 200})
	if err != nil {
		return view{}, err
	}
	runs, err := s.settlement.ListRuns(v.ctx, &settlementv1.ListRunsRequest{Pool: name, PageSize: 20})
	if err != nil {
		return view{}, err
	}
	open := pool.GetState() == settlementv1.PoolState_POOL_STATE_OPEN
	return view{page: "pool", title: pool.GetTitle(), data: map[string]any{
		"Pool": pool, "Entries": entries.GetEntries(), "Runs": runs.GetRuns(), "Open": open,
		"MayBook": open && v.mayCall(bookSales), "MayCarry": open && v.mayCall(carryOver), "MayPropose": open && v.mayCall(proposeProgress), "MayAdopt": open && v.mayCall(adoptProgress),
		"MayEnter": open && v.mayCall(recordPoolEntry), "MayPrepare": open && v.mayCall(prepareRun),
	}}, nil
}

// bookedAmount is what was typed, below zero where it takes an entry back: nobody has to know which sign an expense has.
func (s *site) bookedAmount(f *form) *typev1.Money {
	amount := s.typedMoney(f.Value("amount"))
	if f.Value("effect") == "BACK" && amount != nil {
		amount.Amount = "-" + strings.TrimPrefix(amount.GetAmount(), "-")
	}
	return amount
}

// poolEntry books an amount on a pool's account.
func (s *site) poolEntry(v *visit) (view, error) {
	f := v.form()
	f.set("effect", "BOOK")
	name := "pools/" + v.PathValue("id")
	if v.posted {
		_, err := s.settlement.RecordPoolEntry(v.ctx, &settlementv1.RecordPoolEntryRequest{
			RequestId: f.RequestID, Pool: name, Entry: &settlementv1.PoolEntry{
				Kind:        settlementv1.PoolEntryKind(settlementv1.PoolEntryKind_value["POOL_ENTRY_KIND_"+f.Value("kind")]),
				Amount:      s.bookedAmount(f),
				Description: f.Value("description"), Document: f.Value("document"), EntryDate: f.Value("entry_date"),
			},
		})
		if err == nil {
			return view{goTo: "/pools/" + idOf(name)}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "poolentry", title: "Pool account", data: map[string]any{"Form": f, "Pool": name, "Currency": s.Cooperative.Currency}}, nil
}

// prepareRun calculates what closing a pool would pay. It pays nothing.
func (s *site) prepareRun(v *visit) (view, error) {
	f := v.form()
	name := "pools/" + v.PathValue("id")
	if v.posted {
		run, err := s.settlement.PrepareRun(v.ctx, &settlementv1.PrepareRunRequest{RequestId: f.RequestID, Pool: name})
		if err == nil {
			return view{goTo: "/runs/" + idOf(run.GetName())}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "prepare", title: "Calculate a pool", data: map[string]any{"Form": f, "Pool": name}}, nil
}

// run is the calculation a board decides about, by its fingerprint.
func (s *site) run(v *visit) (view, error) {
	f := v.form()
	name := "runs/" + v.PathValue("id")
	if v.posted {
		err := s.decideRun(v, f, name)
		if err == nil {
			return view{goTo: v.URL.Path}, nil
		}
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	run, err := s.settlement.GetRun(v.ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return view{}, err
	}
	later, err := s.hasEarlier(v, run)
	if err != nil {
		return view{}, err
	}
	prepared, approved := run.GetState() == settlementv1.RunState_RUN_STATE_PREPARED, run.GetState() == settlementv1.RunState_RUN_STATE_APPROVED
	return view{page: "run", title: "Run " + run.GetNumber(), data: map[string]any{
		"Form": f, "Run": run, "MakeUp": makeUp(run.GetClasses()), "MayApprove": prepared && v.mayCall(approveRun), "MayRelease": approved && v.mayCall(releaseRun),
		"Later": later,
	}}, nil
}

// hasEarlier is whether there is a run of the pool before this one: the first has nothing to be compared with.
func (s *site) hasEarlier(v *visit, run *settlementv1.Run) (bool, error) {
	found, err := s.settlement.ListRuns(v.ctx, &settlementv1.ListRunsRequest{Pool: run.GetPool(), PageSize: 100})
	if err != nil {
		return false, err
	}
	runs := found.GetRuns() // newest first
	return found.GetNextPageToken() != "" || len(runs) > 0 && runs[len(runs)-1].GetName() != run.GetName(), nil
}

// decideRun passes on the fingerprint the page showed: if the run behind it were another, the service refuses.
func (s *site) decideRun(v *visit, f *form, name string) error {
	var err error
	switch f.Value("do") {
	case "approve":
		_, err = s.settlement.ApproveRun(v.ctx, &settlementv1.ApproveRunRequest{
			RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint"), Minutes: f.Value("minutes"),
		})
	case "abstain":
		_, err = s.settlement.AbstainFromRun(v.ctx, &settlementv1.AbstainFromRunRequest{RequestId: f.RequestID, Name: name, Minutes: f.Value("minutes")})
	default:
		_, err = s.settlement.ReleaseRun(v.ctx, &settlementv1.ReleaseRunRequest{RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint")})
	}
	return err
}

// makeUp draws what a pool is made of the way stock is drawn.
func makeUp(classes []*settlementv1.RunClass) []*inventoryv1.StockTotal {
	var totals []*inventoryv1.StockTotal
	rest := "all sources"
	if slices.ContainsFunc(classes, func(c *settlementv1.RunClass) bool { return c.GetVariety() != "" }) {
		rest = "other sources"
	}
	for _, c := range classes {
		variety := cmp.Or(c.GetVariety(), rest)
		totals = append(totals, &inventoryv1.StockTotal{Variety: variety, ColorClass: c.GetColorClass(), Grade: c.GetGrade(), Barrels: c.GetBarrels(), Net: c.GetPayable()})
	}
	return totals
}

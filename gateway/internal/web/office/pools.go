package office

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"barrelhead.example/gateway/internal/web/site"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

func (s room) pools(v *site.Visit) (site.View, error) {
	found, err := s.Settlement.ListPools(v.Ctx, &settlementv1.ListPoolsRequest{PageSize: 50, PageToken: v.URL.Query().Get("page")})
	if err != nil {
		return site.View{}, err
	}
	return site.View{Page: "pools", Title: "Pools", Data: map[string]any{
		"Pools": found.GetPools(), "Next": site.NextPage(v, found.GetNextPageToken()), "MayOpen": v.MayCall(openPool),
	}}, nil
}

// newPool opens a pool with the differentials of its classes.
func (s room) newPool(v *site.Visit) (site.View, error) {
	f := v.Form()
	if v.Posted {
		pool := s.typedPool(f)
		if f.Problem == "" {
			made, err := s.Settlement.OpenPool(v.Ctx, &settlementv1.OpenPoolRequest{RequestId: f.RequestID, Pool: pool})
			if err == nil {
				return site.View{GoTo: "/pools/" + site.IDOf(made.GetName())}, nil
			}
			if !f.Refused(v, err) {
				return site.View{}, err
			}
		}
	}
	return site.View{Page: "newpool", Title: "Open a pool", Data: map[string]any{"Form": f}}, nil
}

func (s room) typedPool(f *site.Form) *settlementv1.Pool {
	year, _ := strconv.ParseInt(f.Value("crop_year"), 10, 32) // what is no number is refused by its range
	pool := &settlementv1.Pool{CropYear: int32(year), Title: f.Value("title")}
	for variety := range strings.SplitSeq(f.Value("varieties"), ",") {
		if variety = strings.ToLower(strings.TrimSpace(variety)); variety != "" {
			pool.Varieties = append(pool.Varieties, variety)
		}
	}
	for n, cells := range site.LinesOf(f.Value("differentials")) {
		if len(cells) != 4 {
			f.BadLine("differentials", n, "source, colour, grade and amount")
			continue
		}
		variety := strings.ToLower(cells[0])
		if variety == "any" || variety == "*" {
			variety = ""
		}
		pool.Differentials = append(pool.Differentials, &settlementv1.Differential{
			Variety: variety, ColorClass: strings.ReplaceAll(strings.ToUpper(cells[1]), " ", "_"), Grade: strings.ToUpper(cells[2]), Amount: s.TypedPrice(cells[3]),
		})
	}
	return pool
}

func (s room) pool(v *site.Visit) (site.View, error) {
	name := "pools/" + v.PathValue("id")
	pool, err := s.Settlement.GetPool(v.Ctx, &settlementv1.GetPoolRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	entries, err := s.Settlement.ListPoolEntries(v.Ctx, &settlementv1.ListPoolEntriesRequest{Pool: name, PageSize: 200})
	if err != nil {
		return site.View{}, err
	}
	runs, err := s.Settlement.ListRuns(v.Ctx, &settlementv1.ListRunsRequest{Pool: name, PageSize: 20})
	if err != nil {
		return site.View{}, err
	}
	open := pool.GetState() == settlementv1.PoolState_POOL_STATE_OPEN
	return site.View{Page: "pool", Title: pool.GetTitle(), Data: map[string]any{
		"Pool": pool, "Entries": entries.GetEntries(), "Runs": runs.GetRuns(), "Open": open,
		"MayBook": open && v.MayCall(bookSales), "MayCarry": open && v.MayCall(carryOver), "MayPropose": open && v.MayCall(proposeProgress), "MayAdopt": open && v.MayCall(adoptProgress),
		"MayEnter": open && v.MayCall(recordPoolEntry), "MayPrepare": open && v.MayCall(prepareRun),
	}}, nil
}

// bookedAmount is what was typed, below zero where it takes an entry back: nobody has to know which sign an expense has.
func (s room) bookedAmount(f *site.Form) *typev1.Money {
	amount := s.TypedMoney(f.Value("amount"))
	if f.Value("effect") == "BACK" && amount != nil {
		amount.Amount = "-" + strings.TrimPrefix(amount.GetAmount(), "-")
	}
	return amount
}

// poolEntry books an amount on a pool's account.
func (s room) poolEntry(v *site.Visit) (site.View, error) {
	f := v.Form()
	f.Set("effect", "BOOK")
	name := "pools/" + v.PathValue("id")
	if v.Posted {
		_, err := s.Settlement.RecordPoolEntry(v.Ctx, &settlementv1.RecordPoolEntryRequest{
			RequestId: f.RequestID, Pool: name, Entry: &settlementv1.PoolEntry{
				Kind:        settlementv1.PoolEntryKind(settlementv1.PoolEntryKind_value["POOL_ENTRY_KIND_"+f.Value("kind")]),
				Amount:      s.bookedAmount(f),
				Description: f.Value("description"), Document: f.Value("document"), EntryDate: f.Value("entry_date"),
			},
		})
		if err == nil {
			return site.View{GoTo: "/pools/" + site.IDOf(name)}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "poolentry", Title: "Pool account", Data: map[string]any{"Form": f, "Pool": name, "Currency": s.Cooperative.Currency}}, nil
}

// prepareRun calculates what closing a pool would pay. It pays nothing.
func (s room) prepareRun(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "pools/" + v.PathValue("id")
	if v.Posted {
		run, err := s.Settlement.PrepareRun(v.Ctx, &settlementv1.PrepareRunRequest{RequestId: f.RequestID, Pool: name})
		if err == nil {
			return site.View{GoTo: "/runs/" + site.IDOf(run.GetName())}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "prepare", Title: "Calculate a pool", Data: map[string]any{"Form": f, "Pool": name}}, nil
}

// run is the calculation a board decides about, by its fingerprint.
func (s room) run(v *site.Visit) (site.View, error) {
	f := v.Form()
	name := "runs/" + v.PathValue("id")
	if v.Posted {
		err := s.decideRun(v, f, name)
		if err == nil {
			return site.View{GoTo: v.URL.Path}, nil
		}
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	run, err := s.Settlement.GetRun(v.Ctx, &settlementv1.GetRunRequest{Name: name})
	if err != nil {
		return site.View{}, err
	}
	later, err := s.hasEarlier(v, run)
	if err != nil {
		return site.View{}, err
	}
	prepared, approved := run.GetState() == settlementv1.RunState_RUN_STATE_PREPARED, run.GetState() == settlementv1.RunState_RUN_STATE_APPROVED
	return site.View{Page: "run", Title: "Run " + run.GetNumber(), Data: map[string]any{
		"Form": f, "Run": run, "MakeUp": makeUp(run.GetClasses()), "MayApprove": prepared && v.MayCall(approveRun), "MayRelease": approved && v.MayCall(releaseRun),
		"Later": later,
	}}, nil
}

// hasEarlier is whether there is a run of the pool before this one: the first has nothing to be compared with.
func (s room) hasEarlier(v *site.Visit, run *settlementv1.Run) (bool, error) {
	found, err := s.Settlement.ListRuns(v.Ctx, &settlementv1.ListRunsRequest{Pool: run.GetPool(), PageSize: 100})
	if err != nil {
		return false, err
	}
	runs := found.GetRuns() // newest first
	return found.GetNextPageToken() != "" || len(runs) > 0 && runs[len(runs)-1].GetName() != run.GetName(), nil
}

// decideRun passes on the fingerprint the page showed: if the run behind it were another, the service refuses.
func (s room) decideRun(v *site.Visit, f *site.Form, name string) error {
	var err error
	switch f.Value("do") {
	case "approve":
		_, err = s.Settlement.ApproveRun(v.Ctx, &settlementv1.ApproveRunRequest{
			RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint"), Minutes: f.Value("minutes"),
		})
	case "abstain":
		_, err = s.Settlement.AbstainFromRun(v.Ctx, &settlementv1.AbstainFromRunRequest{RequestId: f.RequestID, Name: name, Minutes: f.Value("minutes")})
	default:
		_, err = s.Settlement.ReleaseRun(v.Ctx, &settlementv1.ReleaseRunRequest{RequestId: f.RequestID, Name: name, Fingerprint: f.Value("fingerprint")})
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

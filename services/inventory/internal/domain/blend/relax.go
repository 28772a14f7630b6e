package blend

// Change is another value for a limit, in the terms of Order.Value: the nearest to the one asked for that makes a plan
// possible. Nearest is false when the budget ended before it was proved that nothing nearer does.
type Change struct {
	Limit    Limit
	From, To int64
	Nearest  bool
}

// By is the difference, without sign.
func (c Change) By() int64 { return abs(c.To - c.From) }

// Value is the number of a limit as a reader knows it, and whether the limit applies: thousandths of the unit of mass,
// hundredths of a percent, hundredths of a millimetre, tenths of mg/kg, barrels or members. See Limit.Number.
func (o *Order) Value(l Limit) (int64, bool) { return o.value(l) }

// With is the order after a change.
func (o *Order) With(c Change) Order { return o.with(c.Limit, c.To) }

// relaxNodes is the work spent on one question of whether a value would do.
const relaxNodes = 20_000

// mostChanges ends a search for changes that are only together enough.
const mostChanges = 12

// relaxations finds, for an order that no choice keeps, what each limit of a conflict would have to be for a plan to exist
// with all others as they are; and, where no single one is enough, changes that are together.
func relaxations(o Order, barrels []Barrel, named []Limit, opts Options) (single, together []Change, err error) {
	opts.Nodes = min(opts.Nodes, relaxNodes)
	for _, l := range named {
		c, ok, err := nearest(&o, l, barrels, opts)
		if err != nil {
			return nil, nil, err
		}
		if ok {
			single = append(single, c)
		}
	}
	if len(single) > 0 {
		return single, nil, nil
	}
	together, err = joined(o, barrels, named, opts)
	return nil, together, err
}

// joined gives way on one conflict after the other: of each, on the limit a buyer gives way on first of those that are
// enough for it.
func joined(o Order, barrels []Barrel, named []Limit, opts Options) ([]Change, error) {
	given := o
	var out []Change
	for range mostChanges {
		changed, err := settleConflict(&given, barrels, named, opts)
		if err != nil || changed == "" {
			return nil, err
		}
		out = noteChange(out, o, given, changed)
		s, err := first(&given, barrels, opts)
		if err != nil {
			return nil, err
		}
		if s.best != nil {
			return out, nil
		}
		if !s.hopeless() {
			return nil, nil
		}
		if named, err = conflict(given, barrels, opts); err != nil {
			return nil, err
		}
	}
	return nil, nil
}

// settleConflict changes o so that one conflict is no longer one, and returns the limit that gave way, or "".
func settleConflict(o *Order, barrels []Barrel, named []Limit, opts Options) (Limit, error) {
	for i := len(named) - 1; i >= 0; i-- {
		only := *o
		for _, l := range o.limits() {
			if !contains(named, l) {
				only = only.without(l)
			}
		}
		c, ok, err := nearest(&only, named[i], barrels, opts)
		if err != nil {
			return "", err
		}
		if ok {
			*o = o.with(c.Limit, c.To)
			return c.Limit, nil
		}
	}
	return "", nil
}

// noteChange adds the limit to the changes from o to given, or renews it. Of several changes none is proved the nearest.
func noteChange(out []Change, o, given Order, l Limit) []Change {
	from, _ := o.value(l)
	to, _ := given.value(l)
	for i := range out {
		if out[i].Limit == l {
			out[i].To = to
			return out
		}
	}
	return append(out, Change{Limit: l, From: from, To: to})
}

func contains(limits []Limit, l Limit) bool {
	for _, in := range limits {
		if in == l {
			return true
		}
	}
	return false
}

// nearest is the value of a limit nearest to the one asked for with which there is a plan, by halving the distance between
// the one asked for, which has none, and one that a plan keeps; ok is false when even without the limit none was found.
func nearest(o *Order, l Limit, barrels []Barrel, opts Options) (c Change, ok bool, err error) {
	without := o.loosest(l, barrels)
	s, err := first(&without, barrels, opts)
	if err != nil || s.best == nil {
		return c, false, err
	}
	from, _ := o.value(l)
	c = Change{Limit: l, From: from, To: s.keeps(o, l), Nearest: true}
	for far := from; farApart(far, c.To); {
		middle := far + (c.To-far)/2
		trial := o.with(l, middle)
		if s, err = first(&trial, barrels, opts); err != nil {
			return c, false, err
		}
		if s.best != nil {
			c.To = s.keeps(o, l)
			continue
		}
		c.Nearest = c.Nearest && s.hopeless()
		far = middle
	}
	// A charge of nothing keeps everything and helps nobody.
	return c, l != MinWeight || c.To > 0, nil
}

// loosest is the order with a limit nothing can break. That of HMF stays one, since it also keeps out what was not measured.
func (o *Order) loosest(l Limit, barrels []Barrel) Order {
	if l != MaxHMF {
		return o.without(l)
	}
	most := int64(*o.MaxHMF)
	for i := range barrels {
		most = max(most, o.hmf(&barrels[i]))
	}
	return o.with(l, most)
}

func farApart(a, b int64) bool { return abs(a-b) > 1 }

// keeps is the value of a limit nearest to breaking that the plan found still keeps.
func (s *search) keeps(o *Order, l Limit) int64 {
	return o.reached(l, o.tally(s.p.used(s.best, s.beside)))
}

// reached is the strictest value of a limit that a blend keeps.
func (o *Order) reached(l Limit, t tally) int64 {
	sum, by := o.measure(l, t)
	switch {
	case by == 0:
		return sum
	case l == MaxColor:
		return int64(reads(Density(ceilDiv(sum, by))))
	case l == MinColor:
		return int64(lightest(Density(sum / by)))
	case l.atMost():
		return ceilDiv(sum, by)
	default:
		return sum / by
	}
}

// measure is what a limit is compared with: sum, or the mean sum/by. Colour is in density, shares in hundredths of a percent.
func (o *Order) measure(l Limit, t tally) (sum, by int64) {
	switch l {
	case MinWeight, MaxWeight:
		return t.weight, 0
	case MinMoisture, MaxMoisture:
		return t.water, t.weight
	case MinColor, MaxColor:
		return t.color, t.weight
	case MinShare:
		return t.share * 100_00, t.weight
	case MaxAged:
		return t.aged, 0
	case MaxMembers:
		return int64(len(t.members)), 0
	case MaxHMF:
		return t.hmf, t.weight
	default:
		for i, g := range o.Groups {
			if l == MinGroup(g.Name) || l == MaxGroup(g.Name) {
				return t.groups[i] * 100_00, t.weight
			}
		}
		return 0, 0
	}
}

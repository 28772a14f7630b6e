package indicator

import (
	"context"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"sync"

	"go.uber.org/zap"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/quantity"
)

// Book has the settings of each scale with an indicator, by the id of the scale: "2" for scales/2.
type Book map[string]Settings

var scaleID = regexp.MustCompile(`^[A-Za-z0-9-]{1,20}$`)

// Check lists everything wrong with all of them. Paths are relative.
func (b Book) Check() []config.Fault {
	var faults []config.Fault
	taken := map[string]string{}
	for _, id := range slices.Sorted(maps.Keys(b)) {
		if !scaleID.MatchString(id) {
			faults = append(faults, config.Fault{Path: id, Message: "is no id of a scale"})
		}
		for _, f := range b[id].Check() {
			faults = append(faults, config.Fault{Path: id + "." + f.Path, Message: f.Message})
		}
		where, err := parseAddress(b[id].Address)
		if err != nil {
			continue
		}
		// One indicator for two scales would weigh a barrel on a scale it never stood on.
		if other, used := taken[where.String()]; used {
			faults = append(faults, config.Fault{Path: id + ".address", Message: fmt.Sprintf("is that of scale %s", other)})
		}
		taken[where.String()] = id
	}
	return faults
}

// Set are the readers of all scales with an indicator.
type Set map[string]*Reader

// NewSet makes a reader for each scale.
func NewSet(b Book, unit quantity.Unit, c clock.Clock, log *zap.Logger) (Set, error) {
	if faults := b.Check(); len(faults) > 0 {
		return nil, fmt.Errorf("settings of the indicators: %s %s", faults[0].Path, faults[0].Message)
	}
	set := Set{}
	for id, settings := range b {
		r, err := New(settings, unit, c, log)
		if err != nil {
			return nil, fmt.Errorf("settings of the indicators: %s.%w", id, err)
		}
		set[id] = r
	}
	return set, nil
}

// Run reads all until ctx ends.
func (s Set) Run(ctx context.Context) {
	var all sync.WaitGroup
	for _, r := range s {
		all.Go(func() { r.Run(ctx) })
	}
	all.Wait()
}

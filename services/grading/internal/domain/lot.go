package domain

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// LotVerdict is what a sample of a lot's units says of the lot.
type LotVerdict struct {
	Accepted bool
	// Most deviants the plan allows.
	Most int64
	Text string
}

// lotPlans are single sampling plans by attributes: sample size and acceptance number.
var lotPlans = readTable("lot-sampling.csv", 0, 0)

// JudgeLot decides on a lot from how many of the sampled units fell below grade: more than the acceptance number and the
// lot fails. Only the published sample sizes can be judged. Errors: *FieldError, all at once.
func JudgeLot(sampled, deviants int64) (LotVerdict, error) {
	var faults []error
	at := slices.IndexFunc(lotPlans, func(p point) bool { return p.at == sampled })
	if at < 0 {
		var sizes []string
		for _, p := range lotPlans {
			sizes = append(sizes, strconv.FormatInt(p.at, 10))
		}
		faults = append(faults, &FieldError{"sample_size", fmt.Sprintf(
			"there is no published plan for %d units: sample %s", sampled, strings.Join(sizes, ", "))})
	}
	if deviants < 0 || deviants > sampled {
		faults = append(faults, &FieldError{"deviant_count", fmt.Sprintf("%d of %d units cannot be below grade", deviants, sampled)})
	}
	if len(faults) > 0 {
		return LotVerdict{}, joined(faults)
	}
	v := LotVerdict{Most: lotPlans[at].value, Accepted: deviants <= lotPlans[at].value}
	relation, outcome := "not more than", "the lot is accepted"
	if !v.Accepted {
		relation, outcome = "more than", "the lot is rejected"
	}
	v.Text = fmt.Sprintf("%d of %d units are below grade, %s the %d allowed, so %s.", deviants, sampled, relation, v.Most, outcome)
	return v, nil
}

package paper

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	"barrelhead.example/services/kit/apierr"
)

// longestImport stays below what the server gives an answer.
const longestImport = 50 * time.Second

// imported is what became of a file.
type imported struct {
	DryRun bool `json:"dry_run"`
	// Rows with a member in them.
	Rows int `json:"rows"`
	// Created is how many members were registered, or would be.
	Created int `json:"created"`
	// AlreadyRegistered is how many are there already just as the file says.
	AlreadyRegistered int        `json:"already_registered"`
	Faults            []rowFault `json:"faults"`
}

// importMembers registers the members of a CSV or XLSX file. With ?dry_run=true it only says what would happen and lists
// every fault; without, a file with any fault registers nobody.
func (p *press) importMembers(w http.ResponseWriter, r *http.Request) {
	answer, err := p.takeMembers(r)
	if err != nil {
		p.refuse(w, r, err)
		return
	}
	rest.Answer(w, http.StatusOK, answer)
}

func (p *press) takeMembers(r *http.Request) (*imported, error) {
	dry, err := dryRun(r)
	if err != nil {
		return nil, err
	}
	v, _ := edge.VisitorFrom(r.Context())
	if err := p.permit(v, intakev1.IntakeService_CreateMember_FullMethodName); err != nil {
		return nil, err
	}
	content, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, fmt.Errorf("read the file: %w", err)
	}
	ctx, cancel := context.WithTimeout(rest.Metadata(r.Context(), v), longestImport)
	defer cancel()
	members, err := p.readMembers(ctx)
	if err != nil {
		return nil, err
	}
	plan := newPlan(content, members)
	answer := &imported{DryRun: dry, Rows: plan.rows, Created: len(plan.requests), AlreadyRegistered: plan.known, Faults: []rowFault{}}
	if dry {
		answer.Faults = append(answer.Faults, plan.faults...)
		return answer, nil
	}
	if len(plan.faults) > 0 {
		return nil, refusalOf(plan.faults)
	}
	return answer, p.register(ctx, plan.requests)
}

func dryRun(r *http.Request) (bool, error) {
	if err := parameters(r, "dry_run"); err != nil {
		return false, err
	}
	switch values := r.URL.Query()["dry_run"]; {
	case len(values) == 0:
		return false, nil
	case len(values) == 1 && (values[0] == "true" || values[0] == "false"):
		return values[0] == "true", nil
	default:
		return false, apierr.Field("dry_run", "must be true or false, once")
	}
}

func refusalOf(faults []rowFault) error {
	var fields []apierr.Fault
	for _, f := range faults {
		field := fmt.Sprintf("row %d", f.Row)
		if f.Column != "" {
			field += ", " + f.Column
		}
		fields = append(fields, apierr.Fault{Field: field, Message: f.Message})
	}
	return apierr.Fields(fields...)
}

// register enters one member after the other. When the service stops answering in between, those entered stay entered, and
// sending the same file again goes on where this ended.
func (p *press) register(ctx context.Context, requests []*intakev1.CreateMemberRequest) error {
	for i, request := range requests {
		if _, err := p.intake.CreateMember(ctx, request); err != nil {
			d := apierr.Parse(apierr.From(err))
			reason := errorv1.Reason(errorv1.Reason_value["REASON_"+d.Reason])
			return apierr.Because(apierr.New(d.Code, reason, fmt.Sprintf("%d of %d members were entered, then %s: %s. Send the same file again; nobody is entered twice",
				i, len(requests), request.GetMemberNumber(), d.Message), d.Metadata), err)
		}
	}
	return nil
}

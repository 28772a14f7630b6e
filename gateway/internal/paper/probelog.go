package paper

import (
	"context"
	"fmt"
	"io"
	"net/http"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/probelog"
	"barrelhead.example/gateway/internal/rest"
	inventoryv1 "barrelhead.example/proto/gen/barrelhead/inventory/v1"
)

// importReadings records the file of a temperature logger for one stay. A file with any fault records nothing; one that was cut short
// is sent again and goes on where it ended.
func (p *press) importReadings(w http.ResponseWriter, r *http.Request) {
	answer, err := p.takeReadings(r)
	if err != nil {
		p.refuse(w, r, err)
		return
	}
	rest.Answer(w, http.StatusOK, answer)
}

// logged is what became of a file: what the stay makes of each thing that was warmed.
type logged struct {
	Readings int         `json:"readings"`
	Probes   int         `json:"probes"`
	Heats    []warmedOne `json:"heats"`
}

type warmedOne struct {
	Name        string   `json:"name"`
	UsedPercent string   `json:"used_percent"`
	Unknown     bool     `json:"unknown"`
	Alarms      []string `json:"alarms"`
}

func (p *press) takeReadings(r *http.Request) (*logged, error) {
	if err := parameters(r, "warmed", "limit_celsius"); err != nil {
		return nil, err
	}
	v, _ := edge.VisitorFrom(r.Context())
	if err := p.permit(v, inventoryv1.InventoryService_RecordTemperatures_FullMethodName); err != nil {
		return nil, err
	}
	content, err := io.ReadAll(r.Body)
	if err != nil {
		return nil, fmt.Errorf("read the file: %w", err)
	}
	query := r.URL.Query()
	requests, err := probelog.Requests(content, probelog.Stay{
		Name: "heatStays/" + r.PathValue("stay"), Warmed: query["warmed"], Limit: query.Get("limit_celsius"),
	}, p.zone)
	if err != nil {
		return nil, err //nolint:wrapcheck // a refusal by row
	}
	ctx, cancel := context.WithTimeout(rest.Metadata(r.Context(), v), longestImport)
	defer cancel()
	answer := &logged{}
	probes := map[string]bool{}
	for _, request := range requests {
		recorded, err := p.inventory.RecordTemperatures(ctx, request)
		if err != nil {
			return nil, err //nolint:wrapcheck // a refusal of the service
		}
		answer.Readings += len(request.GetReadings())
		probes[request.GetProbe()] = true
		answer.Heats = heatsOf(recorded)
	}
	answer.Probes = len(probes)
	return answer, nil
}

func heatsOf(recorded *inventoryv1.RecordTemperaturesResponse) []warmedOne {
	out := []warmedOne{}
	for _, h := range recorded.GetHeats() {
		one := warmedOne{Name: h.GetName(), UsedPercent: h.GetUsedPercent(), Unknown: h.GetUnknown(), Alarms: []string{}}
		for _, a := range h.GetAlarms() {
			one.Alarms = append(one.Alarms, a.GetSentence())
		}
		out = append(out, one)
	}
	return out
}

package dock

import (
	"encoding/json"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/gateway/internal/web/site"
	"barrelhead.example/gateway/internal/wording"
	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
)

// stateWords say in large letters what a scale does; what to do about it the service says itself.
var stateWords = map[string]string{
	"STABLE": "Stands still", "MOVING": "Moving: wait", "STUCK": "Stuck", "OVER_RANGE": "Too heavy", "UNDER_LOAD": "Below zero", "DISCONNECTED": "Not connected",
	"SILENT": "Sends nothing", "UNREADABLE": "Cannot be read", "WRONG_UNIT": "Wrong unit", "WRONG_DIVISION": "Wrong step", "NET": "Subtracts a tare", "UNMOVED": "Not moved",
}

// unmoved is said where the next barrel cannot be on the scale yet: its weight has stood still since before the last one was saved.
const unmoved = "It has stood still since the barrel before. Take that barrel off and put the next one on."

// shownWeight is the panel above the button.
type shownWeight struct {
	Weight, Word, Message string
	Still                 bool
	// Captured is a weight already taken: the panel no longer follows the scale.
	Captured bool
	// Before is when the last barrel on this scale was weighed; a weight that stood still then is that barrel's.
	Before string
	// Words and Unmoved are what the script that follows the scale says.
	Words, Unmoved string
}

func (s room) panel(state, weight, message string) *shownWeight {
	said, err := json.Marshal(stateWords)
	if err != nil {
		said = []byte("{}")
	}
	return &shownWeight{Weight: weight, Word: stateWords[state], Message: s.Plain(message), Still: state == "STABLE", Words: string(said), Unmoved: unmoved}
}

// shownWeight is what the indicator of the chosen scale shows; nil when the weight has to be typed, because there is no
// indicator or the clerk wants to.
func (s room) shownWeight(v *site.Visit, f *site.Form, t *intakev1.Ticket) (*shownWeight, error) {
	if f.Value("typed") != "" || f.Value("scale") == "" {
		return nil, nil
	}
	if s.captured(v, f) {
		return &shownWeight{
			Weight: f.Value("captured") + " " + wording.Words(s.Cooperative.Unit), Word: "Taken", Message: "Taken from the scale for this barrel.", Still: true, Captured: true,
		}, nil
	}
	seen, err := s.Indicators.GetIndication(v.Ctx, &intakev1.GetIndicationRequest{Scale: f.Value("scale")})
	if err != nil {
		return s.unseen(v, err)
	}
	state := strings.TrimPrefix(seen.GetState().String(), "INDICATION_STATE_")
	before := lastOn(t, f.Value("scale"))
	message := seen.GetMessage()
	if since := seen.GetStableSinceTime(); since != nil && !before.IsZero() && !since.AsTime().After(before) {
		state, message = "UNMOVED", unmoved
	}
	weight := wording.Screen.Mass(seen.GetWeight())
	if state == "SILENT" || state == "DISCONNECTED" {
		weight = wording.None // the last line is no weight of now
	}
	p := s.panel(state, weight, message)
	if !before.IsZero() {
		p.Before = before.UTC().Format(time.RFC3339Nano)
	}
	return p, nil
}

// unseen is the panel of a scale that cannot be asked now; nil where it has no indicator at all.
func (s room) unseen(v *site.Visit, err error) (*shownWeight, error) {
	refusal, code := rest.Explain(v.Context(), err)
	switch {
	case refusal.Metadata["state"] == "NO_INDICATOR", code == codes.Unimplemented, code == codes.NotFound:
		return nil, nil
	case code == codes.Internal, code == codes.PermissionDenied:
		return nil, err
	}
	return s.panel(refusal.Metadata["state"], wording.None, refusal.Message), nil
}

// lastOn is when the newest barrel of a ticket was weighed on a scale over its cable; zero if none was.
func lastOn(t *intakev1.Ticket, scale string) time.Time {
	for _, b := range slices.Backward(t.GetBarrels()) {
		if b.GetScale() == scale && !b.GetManual() {
			return b.GetWeighTime().AsTime()
		}
	}
	return time.Time{}
}

package season

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	intakev1 "barrelhead.example/proto/gen/barrelhead/intake/v1"
	settlementv1 "barrelhead.example/proto/gen/barrelhead/settlement/v1"
	typev1 "barrelhead.example/proto/gen/barrelhead/type/v1"
)

// Staff are the logins of the demo; each has one role, and the password is said openly because the cooperative is
// invented and the machine is yours.
var Staff = []struct{ Login, Role string }{
	{"dock", "DOCK"},
	{"lab", "LAB"},
	{"lab2", "LAB"}, // a second look is another technician's
	{"lead", "LAB_LEAD"},
	{"warehouse", "WAREHOUSE"},
	{"line", "LINE"},
	{"office", "OFFICE"},
	{"office2", "OFFICE"}, // nobody approves what they asked for
	{"treasurer", "TREASURER"},
	{"board", "BOARD"},
	{"auditor", "AUDITOR"},
}

// Password of every demo login.
const Password = "fallow creek demo"

// Crew works a season with one session for each role.
type Crew struct {
	Season   Season
	Lanes    int // deliveries worked side by side
	Progress func(done, total int)

	sessions map[string]*Session
	screen   []string // samples of the composite
	done     atomic.Int64
	total    int
}

// Work runs the whole season: it returns when every call was answered, not when every feed has caught up.
func (c *Crew) Work(ctx context.Context, client *Client, administrator, password string) error {
	if err := c.Prepare(ctx, client, administrator, password); err != nil {
		return err
	}
	return c.receive(ctx)
}

// Prepare does what comes before the first delivery: logins, members, prices and a scale that was checked today.
func (c *Crew) Prepare(ctx context.Context, client *Client, administrator, password string) error {
	for _, step := range []func(context.Context) error{
		func(ctx context.Context) error { return c.signIn(ctx, client, administrator, password) },
		c.registerMembers,
		c.adoptSchedule,
		c.checkScale,
	} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	return nil
}

// CropYear is that of the season that was begun here: run again in another year, it goes on with that one. Where none was, it is now's.
func CropYear(ctx context.Context, client *Client, now time.Time) (int32, error) {
	year := int32(now.Year()) //nolint:gosec // a year fits
	office, err := client.SignIn(ctx, "office", Password)
	if status, ok := errors.AsType[*StatusError](err); ok && status.HTTPStatus == http.StatusUnauthorized {
		return year, nil // the logins are made by the first run
	}
	if err != nil {
		return 0, err
	}
	var page settlementv1.ListSchedulesResponse
	if err := office.Get(ctx, "/v1/schedules?page_size=1000", &page); err != nil {
		return 0, err
	}
	for _, schedule := range page.GetSchedules() {
		year = min(year, schedule.GetCropYear())
	}
	return year, nil
}

// Session of a login that signIn opened.
func (c *Crew) Session(login string) *Session { return c.sessions[login] }

func (c *Crew) signIn(ctx context.Context, client *Client, administrator, password string) error {
	admin, err := client.SignIn(ctx, administrator, password)
	if err != nil {
		return err
	}
	c.sessions = map[string]*Session{"admin": admin}
	for _, staff := range Staff {
		if err := createLogin(ctx, admin, staff.Login, staff.Role, ""); err != nil {
			return err
		}
		if c.sessions[staff.Login], err = client.SignIn(ctx, staff.Login, Password); err != nil {
			return err
		}
	}
	return nil
}

// createLogin makes a login; one that is there from an earlier run is left alone.
func createLogin(ctx context.Context, admin *Session, login, role, member string) error {
	err := admin.PostJSON(ctx, "/v1/logins", map[string]any{
		"login": login, "password": Password, "roles": []string{role}, "member": member,
	})
	if status, ok := errors.AsType[*StatusError](err); ok && status.Reason == "ALREADY_EXISTS" {
		return nil
	}
	return err
}

func (c *Crew) registerMembers(ctx context.Context) error {
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(c.Lanes)
	for _, m := range c.Season.Members {
		g.Go(func() error {
			err := c.sessions["office"].Post(ctx, "/v1/members", &intakev1.CreateMemberRequest{
				RequestId: RequestID("member", m.Number), MemberNumber: m.Number, DisplayName: m.Name, AgreementVersion: "1",
			}, &intakev1.Member{})
			if err != nil {
				return err
			}
			return createLogin(ctx, c.sessions["admin"], MemberLogin(m.Number), "MEMBER", "members/"+m.Number)
		})
	}
	return g.Wait()
}

// MemberLogin is the demo login of a member number.
func MemberLogin(number string) string { return strings.ToLower(number) }

func (c *Crew) adoptSchedule(ctx context.Context) error {
	year := c.Season.CropYear
	var drafted settlementv1.Schedule
	if err := c.sessions["office"].Post(ctx, "/v1/schedules", &settlementv1.CreateScheduleRequest{
		RequestId: RequestID("schedule", year), Schedule: Schedule(year),
	}, &drafted); err != nil {
		return err
	}
	return c.sessions["board"].Post(ctx, "/v1/"+drafted.GetName()+":adopt", &settlementv1.AdoptScheduleRequest{
		RequestId: RequestID("adopt", year), Resolution: "Annual meeting, resolution 3",
	}, &settlementv1.Schedule{})
}

func (c *Crew) checkScale(ctx context.Context) error {
	if err := c.sessions["admin"].Post(ctx, "/v1/scales", &intakev1.CreateScaleRequest{
		RequestId: RequestID("scale", 1), ScaleId: "1",
		Scale: &intakev1.Scale{
			Description: "Floor scale, receiving bay", Division: pounds(5), Capacity: pounds(20_000),
			AccuracyClass: intakev1.AccuracyClass_ACCURACY_CLASS_III, Seal: "S-1041",
		},
	}, &intakev1.Scale{}); err != nil {
		return err
	}
	return c.checkScaleToday(ctx)
}

func (c *Crew) checkScaleToday(ctx context.Context) error {
	return c.sessions["dock"].Post(ctx, "/v1/scales/1/checks", &intakev1.RecordScaleCheckRequest{
		RequestId: RequestID("check", 1, hour()), ZeroIndication: pounds(0),
		Loads: []*intakev1.CheckLoad{
			{WeightId: "TW-50-1", Known: pounds(500), Indication: pounds(500)},
			{WeightId: "TW-600-1", Known: pounds(6_000), Indication: pounds(6_005)},
		},
	}, &intakev1.ScaleCheck{})
}

// inOrder is how many deliveries, those with special cases, are worked one after the other.
const inOrder = 8

func (c *Crew) receive(ctx context.Context) error {
	for _, step := range []func(context.Context) error{c.bequeath, c.noteLien} {
		if err := step(ctx); err != nil {
			return err
		}
	}
	c.total, c.screen = 0, nil
	c.done.Store(0)
	for _, d := range c.Season.Deliveries {
		c.total += len(d.Barrels)
	}
	// Deliveries that share a drum with an earlier one must come after it: those before the marker are worked in order.
	first := min(inOrder, len(c.Season.Deliveries))
	for _, d := range c.Season.Deliveries[:first] {
		if err := c.deliver(ctx, d); err != nil {
			return fmt.Errorf("delivery %d: %w", d.Index, err)
		}
	}
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(c.Lanes)
	for _, d := range c.Season.Deliveries[first:] {
		g.Go(func() error {
			if err := c.deliver(ctx, d); err != nil {
				return fmt.Errorf("delivery %d: %w", d.Index, err)
			}
			return nil
		})
	}
	return g.Wait()
}

func pounds(tenths int64) *typev1.Mass {
	return &typev1.Mass{Value: fmt.Sprintf("%d.%d", tenths/10, tenths%10), Unit: "LB"}
}

// hour names the hour a repeatable daily task falls in: a season that crosses midnight checks its scale again.
func hour() string { return time.Now().UTC().Format("2006-01-02T15") }

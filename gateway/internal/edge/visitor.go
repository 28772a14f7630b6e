package edge

import (
	"context"
	"net/http"
	"strings"
	"time"

	"barrelhead.example/gateway/internal/session"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/apierr"
)

// Visitor is a signed-in caller.
type Visitor struct {
	session.Session
	// Token is the secret of the session; it must not be logged or shown.
	Token string
	// Browser is true when the token came in a cookie, which a browser sends whether its owner wants or not.
	Browser bool
}

// FormToken is what the visitor's forms must carry.
func (v Visitor) FormToken() string { return session.FormToken(v.Token) }

// Door finds out who is calling.
type Door struct {
	Keeper *session.Keeper
	// Secure marks the cookie for HTTPS only.
	Secure bool
	cross  *http.CrossOriginProtection
}

// NewDoor returns a door. secure is false only where pages are served by plain HTTP on a network of one's own.
func NewDoor(keeper *session.Keeper, secure bool) *Door {
	return &Door{Keeper: keeper, Secure: secure, cross: http.NewCrossOriginProtection()}
}

// Visitor identifies the caller by "Authorization: Bearer …" or, without that header, by cookie. UNAUTHENTICATED if it
// shows neither or the session has ended.
func (d *Door) Visitor(r *http.Request) (Visitor, error) {
	v, err := d.shown(r)
	if err != nil {
		return Visitor{}, err
	}
	v.Session, err = d.Keeper.Identify(r.Context(), v.Token)
	if err != nil {
		return Visitor{}, err
	}
	noteLogin(r.Context(), v.Name)
	return v, nil
}

func (d *Door) shown(r *http.Request) (Visitor, error) {
	if header := r.Header.Get("Authorization"); header != "" {
		scheme, token, _ := strings.Cut(header, " ")
		if !strings.EqualFold(scheme, "Bearer") || token == "" {
			return Visitor{}, apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED, `the Authorization header must be "Bearer" and the token of a session`, nil)
		}
		return Visitor{Token: strings.TrimSpace(token)}, nil
	}
	cookie, err := r.Cookie(d.cookieName())
	if err != nil || cookie.Value == "" {
		return Visitor{}, apierr.Reason(errorv1.Reason_REASON_UNAUTHENTICATED, "sign in first", nil)
	}
	return Visitor{Token: cookie.Value, Browser: true}, nil
}

// CheckWrite refuses a change that a foreign page could have made the visitor's browser send. given is the form token
// of the request. Programs that send their token in a header need none.
func (d *Door) CheckWrite(r *http.Request, v Visitor, given string) error {
	if !v.Browser {
		return nil
	}
	if d.cross.Check(r) != nil || !session.SameFormToken(v.Token, given) {
		return apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED,
			"this form did not come from our own page, or is from before you signed in; open the page again and repeat", nil)
	}
	return nil
}

// CheckOrigin refuses a sign-in form sent by a foreign page.
func (d *Door) CheckOrigin(r *http.Request) error {
	if d.cross.Check(r) != nil {
		return apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "this form did not come from our own page; open the sign-in page and repeat", nil)
	}
	return nil
}

// The prefix makes browsers refuse the cookie unless it is Secure, for the whole site and for this host alone.
func (d *Door) cookieName() string {
	if d.Secure {
		return "__Host-barrelhead"
	}
	return "barrelhead"
}

// GiveCookie hands a browser its session. The age is told, not the date of its end: clocks of phones are wrong.
func (d *Door) GiveCookie(w http.ResponseWriter, token string) {
	http.SetCookie(w, d.cookie(token, int(d.Keeper.Longest()/time.Second)))
}

// TakeCookie makes a browser forget it.
func (d *Door) TakeCookie(w http.ResponseWriter) {
	http.SetCookie(w, d.cookie("", -1))
}

func (d *Door) cookie(value string, age int) *http.Cookie {
	return &http.Cookie{ //nolint:gosec // Secure wherever browsers come by HTTPS; the transport setting decides that
		Name: d.cookieName(), Value: value, Path: "/", MaxAge: age,
		HttpOnly: true, Secure: d.Secure, SameSite: http.SameSiteStrictMode,
	}
}

type visitorKey struct{}

// WithVisitor remembers who is calling.
func WithVisitor(ctx context.Context, v Visitor) context.Context {
	return context.WithValue(ctx, visitorKey{}, v)
}

// VisitorFrom returns who is calling; false when nobody signed in.
func VisitorFrom(ctx context.Context) (Visitor, bool) {
	v, ok := ctx.Value(visitorKey{}).(Visitor)
	return v, ok
}

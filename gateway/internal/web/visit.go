package web

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	errorv1 "barrelhead.example/proto/gen/barrelhead/error/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// patience bounds a page: a clerk with a truck waiting is better told that something is away.
const patience = 10 * time.Second

// page is one address of the site.
type page struct {
	// needs is the RPC the page is for: who may not call it is not shown the page. Empty for any visitor.
	needs string
	// and is an RPC whose answers the page rests on besides.
	and string
	// role is needed where no RPC is behind the page.
	role accessv1.Role
	// form also takes POST.
	form bool
	show func(*visit) (view, error)
}

// view is what a page answers: a template with its data, or another address.
type view struct {
	page   string
	title  string
	data   any
	goTo   string
	status int
	// file is handed out instead of a page.
	file *file
	// cookie is remembered by the browser.
	cookie *http.Cookie
}

// visit is one request of somebody who signed in.
type visit struct {
	*http.Request
	ctx    context.Context
	who    edge.Visitor
	site   *site
	posted bool
	// forms were begun for this request; the page that shows one says what its fields are called.
	forms []*form
}

var errNoPage = apierr.NotFound("the page")

// page identifies the visitor, checks what the page needs and that a form is ours, and draws the answer.
func (s *site) page(p page) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who, err := s.Door.Visitor(r)
		if err != nil {
			s.notSignedIn(w, r, err)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), patience)
		defer cancel()
		v := &visit{Request: r, ctx: rest.Metadata(ctx, who), who: who, site: s, posted: r.Method == http.MethodPost}
		answer, err := v.answer(p)
		if err != nil {
			s.fail(w, v, err)
			return
		}
		if answer.cookie != nil {
			http.SetCookie(w, answer.cookie)
		}
		if answer.goTo != "" {
			http.Redirect(w, r, answer.goTo, http.StatusSeeOther)
			return
		}
		if answer.file != nil {
			rest.Download(w, answer.file.name, answer.file.kind, answer.file.content)
			return
		}
		if v.posted && answer.status == 0 {
			// The task was not done: the form comes back with what is wrong.
			answer.status = http.StatusUnprocessableEntity
		}
		s.draw(w, v, answer)
	})
}

// verify is the one page beside the sign-in that anybody may open.
func (s *site) verify(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	// The question is asked as a stranger's, whoever asks: no login may come to stand in the laboratory's records.
	v := &visit{Request: r, ctx: ctx, site: s}
	if who, err := s.Door.Visitor(r); err == nil {
		v.who = who
	}
	answer, err := s.verified(v)
	if err != nil {
		s.fail(w, v, err)
		return
	}
	s.draw(w, v, answer)
}

func (v *visit) answer(p page) (view, error) {
	if !v.may(p) {
		return view{}, apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "your login is not for this page", nil)
	}
	if v.posted {
		if err := v.readForm(); err != nil {
			return view{}, err
		}
		if err := v.site.Door.CheckWrite(v.Request, v.who, v.PostForm.Get("form_token")); err != nil {
			return view{}, err
		}
	}
	return p.show(v)
}

func (v *visit) may(p page) bool {
	if p.role != accessv1.Role_ROLE_UNSPECIFIED && !v.who.Actor().Has(p.role) {
		return false
	}
	return (p.needs == "" || v.mayCall(p.needs)) && (p.and == "" || v.mayCall(p.and))
}

// mayCall reports whether the visitor's roles suffice for an RPC.
func (v *visit) mayCall(method string) bool { return v.site.rules[method].Permits(v.who.Roles) }

// onlyMember is somebody who sees nothing but their own.
func (v *visit) onlyMember() bool { return v.who.Actor().OnlyMember() }

func (v *visit) has(role accessv1.Role) bool { return v.who.Actor().Has(role) }

// notSignedIn leads to the sign-in, and from there back to the page. What was being typed when the session ended comes along.
func (s *site) notSignedIn(w http.ResponseWriter, r *http.Request, err error) {
	if apierr.Parse(err).Code != codes.Unauthenticated {
		s.fail(w, &visit{Request: r, ctx: r.Context(), site: s}, err)
		return
	}
	if r.Method == http.MethodPost && r.URL.Path != "/sign-out" {
		s.drawSignIn(w, r, signInData{
			Next: unsaved(r), Problem: "You were signed out before this was saved. Sign in again to go on; what you typed is kept.",
		}, http.StatusUnauthorized)
		return
	}
	address := "/sign-in"
	if back := r.URL.RequestURI(); r.Method == http.MethodGet && r.URL.Path != "/" {
		if len(back) > longestAddress {
			back = r.URL.EscapedPath()
		}
		address += "?next=" + url.QueryEscape(back)
	}
	http.Redirect(w, r, address, http.StatusSeeOther)
}

// longestAddress leaves room for cookies within what the gateway reads of a request's head.
const longestAddress = 8 << 10

// unsaved is the address of a form with what was typed into it. Secrets are not kept, since addresses are remembered by browsers.
func unsaved(r *http.Request) string {
	if (&visit{Request: r}).readForm() != nil {
		return r.URL.RequestURI()
	}
	typed := r.URL.Query()
	for name, values := range r.PostForm {
		if !strings.Contains(name, "password") && !slices.Contains([]string{"form_token", "request_id", "account_number"}, name) {
			typed[name] = values
		}
	}
	address := r.URL.Path + "?" + typed.Encode()
	if len(address) > longestAddress {
		return r.URL.RequestURI()
	}
	return address
}

// fail draws the page for what went wrong. A resource that is not there and one that is a neighbour's come out the same
// to the byte: the page names neither.
func (s *site) fail(w http.ResponseWriter, v *visit, err error) {
	refusal, code := rest.Explain(v.Context(), err)
	answer := view{page: "fault", title: "That did not work", status: http.StatusInternalServerError}
	f := fault{Message: sentence(refusal.Message), RequestID: refusal.RequestID}
	switch code {
	case codes.NotFound:
		answer.status, answer.title = http.StatusNotFound, "There is nothing here"
		f = fault{Message: "This page does not exist, or it is not yours to see. Check the number, or go back to the start."}
	case codes.PermissionDenied:
		answer.status, answer.title = http.StatusForbidden, "This page is not for your login"
		f.Message = "Signed in as " + v.who.Name + ", " + rolesInWords(v.who.Roles) + ". " + f.Message
	case codes.InvalidArgument, codes.FailedPrecondition, codes.Aborted, codes.AlreadyExists, codes.OutOfRange:
		answer.status = http.StatusBadRequest
		if len(refusal.Fields) > 0 {
			answer.title, f = "That cannot be looked for", s.unanswered(v, refusal)
		}
	case codes.Unauthenticated:
		s.notSignedIn(w, v.Request, err)
		return
	case codes.Unavailable, codes.DeadlineExceeded, codes.ResourceExhausted:
		answer.status, answer.title = http.StatusServiceUnavailable, "Not available just now"
		f.Message = "A part of the house does not answer. Nothing was lost; what you had saved is saved. Try again in a moment."
	default: // our own fault, as set above
	}
	if answer.status == http.StatusInternalServerError && !errors.Is(err, context.Canceled) {
		s.Log.Error("page failed", zap.String("request_id", refusal.RequestID), zap.String("path", v.URL.Path), zap.Error(err))
	}
	answer.data = f
	s.draw(w, v, answer)
}

type fault struct {
	Message   string
	RequestID string
	// Again is where the page opens without what was refused; empty where that would not help.
	Again string
}

// partsOfAddress are fields nobody types.
var partsOfAddress = map[string]string{"page_token": "page of the list", "query": "the address", "path": "the address"}

// unanswered says which fields of an address are at fault, as a page with a form would beside them.
func (s *site) unanswered(v *visit, refusal rest.Refusal) fault {
	f := fault{}
	if v.Method == http.MethodGet && v.URL.RawQuery != "" {
		f.Again = v.URL.EscapedPath()
	}
	var said []saying
	for _, one := range refusal.Fields {
		path := segments(one.Field)
		if known, is := partsOfAddress[one.Field]; is {
			path = []string{known}
		}
		said = append(said, saying{path: path, message: legibly(one.Message)})
	}
	f.Message = s.summary(said, nil)
	return f
}

func rolesInWords(roles []accessv1.Role) string {
	var text string
	for i, r := range roles {
		if i > 0 {
			text += " and "
		}
		text += roleWords[access.RoleName(r)]
	}
	return text
}

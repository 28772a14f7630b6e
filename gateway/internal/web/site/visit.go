package site

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

// Page is one address of the site.
type Page struct {
	// Needs is the RPC the page is for: who may not call it is not shown the page. Empty for any visitor.
	Needs string
	// And is an RPC whose answers the page rests on besides.
	And string
	// Role is needed where no RPC is behind the page.
	Role accessv1.Role
	// Form also takes POST.
	Form bool
	// Open is for anybody: nobody is asked who they are, and the services are asked in nobody's name.
	Open bool
	Show func(*Visit) (View, error)
}

// View is what a page answers: a template with its data, or another address.
type View struct {
	Page   string
	Title  string
	Data   any
	GoTo   string
	Status int
	// File is handed out instead of a page.
	File *File
	// Cookie is remembered by the browser.
	Cookie *http.Cookie
}

// Visit is one request of somebody who signed in.
type Visit struct {
	*http.Request
	Ctx    context.Context
	Who    edge.Visitor
	Site   *Site
	Posted bool
	// forms were begun for this request; the page that shows one says what its fields are called.
	forms []*Form
}

// ErrNoPage is the answer where there is no page.
var ErrNoPage = apierr.NotFound("the page")

// page identifies the visitor, checks what the page needs and that a form is ours, and draws the answer.
func (s *Site) page(p Page) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who, err := s.Door.Visitor(r)
		if err != nil {
			s.notSignedIn(w, r, err)
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), patience)
		defer cancel()
		v := &Visit{Request: r, Ctx: rest.Metadata(ctx, who), Who: who, Site: s, Posted: r.Method == http.MethodPost}
		answer, err := v.answer(p)
		if err != nil {
			s.fail(w, v, err)
			return
		}
		s.give(w, v, answer)
	})
}

// forAnybody draws an open page.
func (s *Site) forAnybody(p Page) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ctx, cancel := context.WithTimeout(r.Context(), patience)
		defer cancel()
		v := &Visit{Request: r, Ctx: ctx, Site: s}
		answer, err := p.Show(v)
		if err != nil {
			s.fail(w, v, err)
			return
		}
		s.give(w, v, answer)
	})
}

// give sends what a page answers.
func (s *Site) give(w http.ResponseWriter, v *Visit, answer View) {
	if answer.Cookie != nil {
		http.SetCookie(w, answer.Cookie)
	}
	if answer.GoTo != "" {
		http.Redirect(w, v.Request, answer.GoTo, http.StatusSeeOther)
		return
	}
	if answer.File != nil {
		rest.Download(w, answer.File.Name, answer.File.Kind, answer.File.Content)
		return
	}
	if v.Posted && answer.Status == 0 {
		// The task was not done: the form comes back with what is wrong.
		answer.Status = http.StatusUnprocessableEntity
	}
	s.draw(w, v, answer)
}

func (v *Visit) answer(p Page) (View, error) {
	if !v.may(p) {
		return View{}, apierr.Reason(errorv1.Reason_REASON_NOT_ALLOWED, "your login is not for this page", nil)
	}
	if v.Posted {
		if err := v.readForm(); err != nil {
			return View{}, err
		}
		if err := v.Site.Door.CheckWrite(v.Request, v.Who, v.PostForm.Get("form_token")); err != nil {
			return View{}, err
		}
	}
	return p.Show(v)
}

func (v *Visit) may(p Page) bool {
	if p.Role != accessv1.Role_ROLE_UNSPECIFIED && !v.Who.Actor().Has(p.Role) {
		return false
	}
	return (p.Needs == "" || v.MayCall(p.Needs)) && (p.And == "" || v.MayCall(p.And))
}

// MayCall reports whether the visitor's roles suffice for an RPC.
func (v *Visit) MayCall(method string) bool { return v.Site.rules[method].Permits(v.Who.Roles) }

// OnlyMember is somebody who sees nothing but their own.
func (v *Visit) OnlyMember() bool { return v.Who.Actor().OnlyMember() }

// Has reports whether the visitor has a role.
func (v *Visit) Has(role accessv1.Role) bool { return v.Who.Actor().Has(role) }

// notSignedIn leads to the sign-in, and from there back to the page. What was being typed when the session ended comes along.
func (s *Site) notSignedIn(w http.ResponseWriter, r *http.Request, err error) {
	if apierr.Parse(err).Code != codes.Unauthenticated {
		s.fail(w, &Visit{Request: r, Ctx: r.Context(), Site: s}, err)
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
	if (&Visit{Request: r}).readForm() != nil {
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
func (s *Site) fail(w http.ResponseWriter, v *Visit, err error) {
	refusal, code := rest.Explain(v.Context(), err)
	answer := View{Page: "fault", Title: "That did not work", Status: http.StatusInternalServerError}
	f := fault{Message: Sentence(refusal.Message), RequestID: refusal.RequestID}
	switch code {
	case codes.NotFound:
		answer.Status, answer.Title = http.StatusNotFound, "There is nothing here"
		f = fault{Message: "This page does not exist, or it is not yours to see. Check the number, or go back to the start."}
	case codes.PermissionDenied:
		answer.Status, answer.Title = http.StatusForbidden, "This page is not for your login"
		f.Message = "Signed in as " + v.Who.Name + ", " + RolesInWords(v.Who.Roles) + ". " + f.Message
	case codes.InvalidArgument, codes.FailedPrecondition, codes.Aborted, codes.AlreadyExists, codes.OutOfRange:
		answer.Status = http.StatusBadRequest
		if len(refusal.Fields) > 0 {
			answer.Title, f = "That cannot be looked for", s.unanswered(v, refusal)
		}
	case codes.Unauthenticated:
		s.notSignedIn(w, v.Request, err)
		return
	case codes.Unavailable, codes.DeadlineExceeded, codes.ResourceExhausted:
		answer.Status, answer.Title = http.StatusServiceUnavailable, "Not available just now"
		f.Message = "A part of the house does not answer. Nothing was lost; what you had saved is saved. Try again in a moment."
	default: // our own fault, as set above
	}
	if answer.Status == http.StatusInternalServerError && !errors.Is(err, context.Canceled) {
		s.Log.Error("page failed", zap.String("request_id", refusal.RequestID), zap.String("path", v.URL.Path), zap.Error(err))
	}
	answer.Data = f
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
func (s *Site) unanswered(v *Visit, refusal rest.Refusal) fault {
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

// RolesInWords names all roles of a login.
func RolesInWords(roles []accessv1.Role) string {
	var text string
	for i, r := range roles {
		if i > 0 {
			text += " and "
		}
		text += roleWords[access.RoleName(r)]
	}
	return text
}

// NextPage is the address of the page after this one; empty at the end.
func NextPage(v *Visit, token string) string {
	if token == "" {
		return ""
	}
	query := v.URL.Query()
	query.Set("page", token)
	return v.URL.Path + "?" + query.Encode()
}

// BackTo reports whether an account is the visitor's own, and where it opens.
func (v *Visit) BackTo(member string) (own bool, back string) {
	if member == v.Who.Member {
		return true, "/me"
	}
	return false, "/members/" + IDOf(member)
}

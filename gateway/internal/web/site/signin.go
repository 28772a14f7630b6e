package site

import (
	"net/http"
	"strings"

	"google.golang.org/grpc/codes"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/rest"
	"barrelhead.example/services/kit/apierr"
)

type signInData struct {
	Next, Login, Problem string
}

func (s *Site) signInPage(w http.ResponseWriter, r *http.Request) {
	s.drawSignIn(w, r, signInData{Next: localPath(r.URL.Query().Get("next"))}, http.StatusOK)
}

func (s *Site) drawSignIn(w http.ResponseWriter, r *http.Request, d signInData, status int) {
	s.draw(w, &Visit{Request: r, Ctx: r.Context(), Site: s}, View{Page: "signin", Title: "Sign in", Data: d, Status: status})
}

// signIn takes the form. The password is never written back into the page.
func (s *Site) signIn(w http.ResponseWriter, r *http.Request) {
	v := &Visit{Request: r, Ctx: r.Context(), Site: s}
	if err := s.Door.CheckOrigin(r); err != nil {
		s.fail(w, v, err)
		return
	}
	if err := r.ParseForm(); err != nil {
		s.fail(w, v, apierr.Field("form", "could not be read; open the page again"))
		return
	}
	given := signInData{Next: localPath(r.PostForm.Get("next")), Login: r.PostForm.Get("login")}
	token, _, err := s.Door.Keeper.SignIn(r.Context(), given.Login, r.PostForm.Get("password"), edge.Address(r.Context()))
	refusal, code := rest.Explain(r.Context(), err)
	switch {
	case err == nil:
		s.Door.GiveCookie(w, token)
		http.Redirect(w, r, given.Next, http.StatusSeeOther)
	case code == codes.Unauthenticated:
		given.Problem = Sentence(refusal.Message)
		s.drawSignIn(w, r, given, http.StatusUnauthorized)
	case code == codes.ResourceExhausted:
		given.Problem = Sentence(refusal.Message)
		w.Header().Set("Retry-After", refusal.Metadata["retry_after_seconds"])
		s.drawSignIn(w, r, given, http.StatusTooManyRequests)
	default:
		s.fail(w, v, err)
	}
}

func (s *Site) signOut(w http.ResponseWriter, r *http.Request) {
	v := &Visit{Request: r, Ctx: r.Context(), Site: s}
	who, err := s.Door.Visitor(r)
	if err == nil {
		v.Who = who
		err = s.Door.CheckWrite(r, who, r.PostFormValue("form_token"))
	}
	if err == nil {
		err = s.Door.Keeper.SignOut(r.Context(), who.Token, edge.Address(r.Context()))
	}
	if err != nil {
		s.fail(w, v, err)
		return
	}
	s.Door.TakeCookie(w)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
}

// localPath lets a sign-in lead only to a page of ours: browsers read "//host" and "/\host" as another site.
func localPath(next string) string {
	if !strings.HasPrefix(next, "/") || strings.HasPrefix(next, "//") || strings.ContainsAny(next, "\\\r\n\t") {
		return "/"
	}
	return next
}

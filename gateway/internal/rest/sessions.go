package rest

import (
	"net/http"
	"time"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/services/kit/access"
)

type credentials struct {
	Login    string `json:"login"`
	Password string `json:"password"`
}

// sessionAnswer is a session as its owner sees it.
type sessionAnswer struct {
	// Token is given once, at sign-in; send it as "Authorization: Bearer …".
	Token      string   `json:"token,omitempty"`
	Login      string   `json:"login"`
	Roles      []string `json:"roles"`
	Member     string   `json:"member"`
	ExpireTime string   `json:"expire_time"`
}

func answerOf(s session.Session) sessionAnswer {
	return sessionAnswer{
		Login: s.Name, Roles: roleNames(s.Login), Member: s.Member, ExpireTime: s.ExpireTime.UTC().Format(time.RFC3339),
	}
}

func roleNames(l session.Login) []string {
	names := []string{}
	for _, role := range l.Roles {
		names = append(names, access.RoleName(role))
	}
	return names
}

// signIn gives a token for a program. Browsers sign in on the page, which keeps the token out of their reach.
func (h *handler) signIn(w http.ResponseWriter, r *http.Request) {
	var given credentials
	if err := decode(r, &given); err != nil {
		onError(r.Context(), nil, nil, w, r, err)
		return
	}
	token, s, err := h.door.Keeper.SignIn(r.Context(), given.Login, given.Password, edge.Address(r.Context()))
	if err != nil {
		writeError(w, r, err)
		return
	}
	answer := answerOf(s)
	answer.Token = token
	writeJSON(w, http.StatusOK, answer)
}

func (h *handler) currentSession(w http.ResponseWriter, r *http.Request) {
	v, _ := edge.VisitorFrom(r.Context())
	writeJSON(w, http.StatusOK, answerOf(v.Session))
}

func (h *handler) signOut(w http.ResponseWriter, r *http.Request) {
	v, _ := edge.VisitorFrom(r.Context())
	if err := h.door.Keeper.SignOut(r.Context(), v.Token, edge.Address(r.Context())); err != nil {
		writeError(w, r, err)
		return
	}
	if v.Browser {
		h.door.TakeCookie(w)
	}
	writeJSON(w, http.StatusOK, struct{}{})
}

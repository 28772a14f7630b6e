package rest

import (
	"bytes"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"time"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/session"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
	"barrelhead.example/services/kit/page"
)

type loginAnswer struct {
	Login      string   `json:"login"`
	Roles      []string `json:"roles"`
	Member     string   `json:"member"`
	Active     bool     `json:"active"`
	CreateTime string   `json:"create_time"`
}

func loginOf(l session.Login) loginAnswer {
	return loginAnswer{Login: l.Name, Roles: roleNames(l), Member: l.Member, Active: l.Active, CreateTime: l.CreateTime.UTC().Format(time.RFC3339)}
}

type newLogin struct {
	Login    string   `json:"login"`
	Password string   `json:"password"`
	Roles    []string `json:"roles"`
	Member   string   `json:"member"`
}

func (h *handler) createLogin(w http.ResponseWriter, r *http.Request) {
	var given newLogin
	if err := decode(r, &given); err != nil {
		onError(r.Context(), nil, nil, w, r, err)
		return
	}
	roles, err := parseRoles(given.Roles)
	if err != nil {
		writeError(w, r, err)
		return
	}
	made, err := h.door.Keeper.Create(r.Context(), actor(r), session.Login{Name: given.Login, Roles: roles, Member: given.Member}, given.Password)
	if err != nil {
		writeError(w, r, err)
		return
	}
	writeJSON(w, http.StatusOK, loginOf(made))
}

func (h *handler) getLogin(w http.ResponseWriter, r *http.Request) {
	l, err := h.door.Keeper.Get(r.Context(), r.PathValue("login"))
	if err != nil {
		writeError(w, r, err)
		return
	}
	writeJSON(w, http.StatusOK, loginOf(l))
}

func (h *handler) listLogins(w http.ResponseWriter, r *http.Request) {
	size, after, err := pageOf(r)
	if err != nil {
		writeError(w, r, err)
		return
	}
	found, err := h.door.Keeper.List(r.Context(), after, size+1)
	if err != nil {
		writeError(w, r, err)
		return
	}
	answer := struct {
		Logins        []loginAnswer `json:"logins"`
		NextPageToken string        `json:"next_page_token"`
	}{Logins: []loginAnswer{}}
	found, answer.NextPageToken = page.Cut(found, size, nil, func(l session.Login) any { return l.Name })
	for _, l := range found {
		answer.Logins = append(answer.Logins, loginOf(l))
	}
	writeJSON(w, http.StatusOK, answer)
}

// changeLogin serves POST /v1/logins/{login}:setPassword, :setRoles, :deactivate and :activate. All but a person's own
// setPassword are for administrators.
func (h *handler) changeLogin(w http.ResponseWriter, r *http.Request) {
	login, verb, _ := strings.Cut(r.PathValue("action"), ":")
	v, _ := edge.VisitorFrom(r.Context())
	var given struct {
		newLogin
		CurrentPassword string `json:"current_password"`
	}
	if err := decode(r, &given); err != nil {
		onError(r.Context(), nil, nil, w, r, err)
		return
	}
	own := verb == "setPassword" && login == v.Name
	if !own && !v.Actor().Has(accessv1.Role_ROLE_ADMINISTRATOR) {
		writeError(w, r, notAdministrator(r))
		return
	}
	err := errVerb
	keeper := h.door.Keeper
	switch verb {
	case "setPassword":
		if own {
			err = keeper.ChangePassword(r.Context(), login, given.CurrentPassword, given.Password, edge.Address(r.Context()))
			break
		}
		err = keeper.SetPassword(r.Context(), actor(r), login, given.Password)
	case "setRoles":
		var roles []accessv1.Role
		if roles, err = parseRoles(given.Roles); err == nil {
			err = keeper.SetRoles(r.Context(), actor(r), session.Login{Name: login, Roles: roles, Member: given.Member})
		}
	case "deactivate":
		err = keeper.SetActive(r.Context(), actor(r), login, false)
	case "activate":
		err = keeper.SetActive(r.Context(), actor(r), login, true)
	}
	h.answerChange(w, r, login, err)
}

var errVerb = apierr.NotFound("the action")

func (h *handler) answerChange(w http.ResponseWriter, r *http.Request, login string, err error) {
	if err != nil {
		writeError(w, r, err)
		return
	}
	l, err := h.door.Keeper.Get(r.Context(), login)
	if err != nil {
		writeError(w, r, err)
		return
	}
	writeJSON(w, http.StatusOK, loginOf(l))
}

func actor(r *http.Request) string {
	v, _ := edge.VisitorFrom(r.Context())
	return v.Actor().Login
}

func parseRoles(names []string) ([]accessv1.Role, error) {
	roles, err := access.ParseRoles(strings.Join(names, ","))
	if err != nil {
		return nil, apierr.Field("roles", err.Error()+"; use names such as DOCK or LAB_LEAD")
	}
	return roles, nil
}

// decode reads a JSON body into a struct, with the same strictness as the services' requests get.
func decode(r *http.Request, into any) error {
	members, err := readObject(r)
	if err != nil {
		return err
	}
	content, err := json.Marshal(members)
	if err != nil {
		return apierr.Field("body", "must be one JSON object")
	}
	decoder := json.NewDecoder(bytes.NewReader(content))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(into); err != nil {
		return unreadable(strings.TrimPrefix(err.Error(), "json: "))
	}
	return nil
}

// pageOf reads pageSize and pageToken, in either spelling.
func pageOf(r *http.Request) (size int, after string, err error) {
	query := r.URL.Query()
	var asked int32
	for name, values := range query {
		switch name {
		case "pageSize", "page_size":
			n, err := strconv.ParseInt(values[0], 10, 32)
			if err != nil {
				return 0, "", apierr.Field("page_size", "must be a whole number")
			}
			asked = int32(n)
		case "pageToken", "page_token":
			if err := page.Decode(values[0], nil, &after); err != nil {
				return 0, "", err
			}
		default:
			return 0, "", apierr.Field(name, "is not a parameter of this request; see /v1/openapi.json")
		}
	}
	size, err = page.Size(asked)
	return size, after, err
}

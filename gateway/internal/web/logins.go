package web

import (
	"strings"

	"barrelhead.example/gateway/internal/session"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

const loginsPerPage = 100

func (s *site) logins(v *visit) (view, error) {
	found, err := s.Door.Keeper.List(v.ctx, v.URL.Query().Get("after"), loginsPerPage+1)
	if err != nil {
		return view{}, err
	}
	next := ""
	if len(found) > loginsPerPage {
		found = found[:loginsPerPage]
		next = "/logins?after=" + found[loginsPerPage-1].Name
	}
	return view{page: "logins", title: "Logins", data: map[string]any{"Logins": found, "Next": next}}, nil
}

// roleOptions are the roles a person can be given.
func roleOptions(chosen []accessv1.Role) []option {
	var options []option
	for _, role := range access.Roles() {
		if role == accessv1.Role_ROLE_SERVICE {
			continue
		}
		o := option{Value: access.RoleName(role), Label: roleWords[access.RoleName(role)]}
		for _, c := range chosen {
			o.Chosen = o.Chosen || c == role
		}
		options = append(options, o)
	}
	return options
}

func (v *visit) typedLogin(name string) (session.Login, error) {
	roles, err := access.ParseRoles(strings.Join(v.PostForm["roles"], ","))
	if err != nil {
		return session.Login{}, apierr.Field("roles", err.Error())
	}
	return session.Login{Name: name, Roles: roles, Member: memberName(v.PostForm.Get("member"))}, nil
}

func (s *site) newLogin(v *visit) (view, error) {
	f := v.form()
	var typed session.Login
	if v.posted {
		var err error
		if typed, err = v.typedLogin(v.PostForm.Get("login")); err == nil {
			_, err = s.Door.Keeper.Create(v.ctx, v.who.Actor().Login, typed, v.PostForm.Get("password"))
		}
		if err == nil {
			return view{goTo: "/logins"}, nil
		}
		delete(f.values, "password")
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	return view{page: "newlogin", title: "New login", data: map[string]any{"Form": f, "Roles": roleOptions(typed.Roles)}}, nil
}

// login shows one login and does one of four things to it.
func (s *site) login(v *visit) (view, error) {
	name := v.PathValue("login")
	f := v.form()
	if v.posted {
		err := s.changeLogin(v, name)
		if err == nil {
			return view{goTo: v.URL.Path}, nil
		}
		delete(f.values, "password")
		if !f.refused(v, err) {
			return view{}, err
		}
	}
	found, err := s.Door.Keeper.Get(v.ctx, name)
	if err != nil {
		return view{}, err
	}
	f.set("member", idOf(found.Member))
	return view{page: "login", title: "Login " + found.Name, data: map[string]any{"Form": f, "Login": found, "Roles": roleOptions(found.Roles)}}, nil
}

func (s *site) changeLogin(v *visit, name string) error {
	by, keeper := v.who.Actor().Login, s.Door.Keeper
	switch v.PostForm.Get("do") {
	case "password":
		return keeper.SetPassword(v.ctx, by, name, v.PostForm.Get("password"))
	case "roles":
		typed, err := v.typedLogin(name)
		if err != nil {
			return err
		}
		return keeper.SetRoles(v.ctx, by, typed)
	case "deactivate":
		return keeper.SetActive(v.ctx, by, name, false)
	case "activate":
		return keeper.SetActive(v.ctx, by, name, true)
	default:
		return apierr.Field("do", "is not something that can be done to a login")
	}
}

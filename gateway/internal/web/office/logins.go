package office

import (
	"strings"

	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/gateway/internal/web/site"
	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

const loginsPerPage = 100

func (s room) logins(v *site.Visit) (site.View, error) {
	found, err := s.Door.Keeper.List(v.Ctx, v.URL.Query().Get("after"), loginsPerPage+1)
	if err != nil {
		return site.View{}, err
	}
	next := ""
	if len(found) > loginsPerPage {
		found = found[:loginsPerPage]
		next = "/logins?after=" + found[loginsPerPage-1].Name
	}
	return site.View{Page: "logins", Title: "Logins", Data: map[string]any{"Logins": found, "Next": next}}, nil
}

// roleOptions are the roles a person can be given.
func roleOptions(chosen []accessv1.Role) []site.Option {
	var options []site.Option
	for _, role := range access.Roles() {
		if role == accessv1.Role_ROLE_SERVICE {
			continue
		}
		o := site.Option{Value: access.RoleName(role), Label: site.RolesInWords([]accessv1.Role{role})}
		for _, c := range chosen {
			o.Chosen = o.Chosen || c == role
		}
		options = append(options, o)
	}
	return options
}

func typedLogin(v *site.Visit, name string) (session.Login, error) {
	roles, err := access.ParseRoles(strings.Join(v.PostForm["roles"], ","))
	if err != nil {
		return session.Login{}, apierr.Field("roles", err.Error())
	}
	return session.Login{Name: name, Roles: roles, Member: site.MemberName(v.PostForm.Get("member"))}, nil
}

func (s room) newLogin(v *site.Visit) (site.View, error) {
	f := v.Form()
	var typed session.Login
	if v.Posted {
		var err error
		if typed, err = typedLogin(v, v.PostForm.Get("login")); err == nil {
			_, err = s.Door.Keeper.Create(v.Ctx, v.Who.Actor().Login, typed, v.PostForm.Get("password"))
		}
		if err == nil {
			return site.View{GoTo: "/logins"}, nil
		}
		f.Forget("password")
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	return site.View{Page: "newlogin", Title: "New login", Data: map[string]any{"Form": f, "Roles": roleOptions(typed.Roles)}}, nil
}

// login shows one login and does one of four things to it.
func (s room) login(v *site.Visit) (site.View, error) {
	name := v.PathValue("login")
	f := v.Form()
	if v.Posted {
		err := s.changeLogin(v, name)
		if err == nil {
			return site.View{GoTo: v.URL.Path}, nil
		}
		f.Forget("password")
		if !f.Refused(v, err) {
			return site.View{}, err
		}
	}
	found, err := s.Door.Keeper.Get(v.Ctx, name)
	if err != nil {
		return site.View{}, err
	}
	f.Set("member", site.IDOf(found.Member))
	return site.View{Page: "login", Title: "Login " + found.Name, Data: map[string]any{"Form": f, "Login": found, "Roles": roleOptions(found.Roles)}}, nil
}

func (s room) changeLogin(v *site.Visit, name string) error {
	by, keeper := v.Who.Actor().Login, s.Door.Keeper
	switch v.PostForm.Get("do") {
	case "password":
		return keeper.SetPassword(v.Ctx, by, name, v.PostForm.Get("password"))
	case "roles":
		typed, err := typedLogin(v, name)
		if err != nil {
			return err
		}
		return keeper.SetRoles(v.Ctx, by, typed)
	case "deactivate":
		return keeper.SetActive(v.Ctx, by, name, false)
	case "activate":
		return keeper.SetActive(v.Ctx, by, name, true)
	default:
		return apierr.Field("do", "is not something that can be done to a login")
	}
}

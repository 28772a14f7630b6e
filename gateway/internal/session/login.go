// Package session keeps the logins of the cooperative and says who is calling: passwords, sessions, and the record of
// both. It knows no business rule.
package session

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/apierr"
)

// Limits of what a login may look like.
const (
	LeastPassword = 10
	MostPassword  = 128
)

var (
	loginPattern  = regexp.MustCompile(`^[a-z][a-z0-9._-]{1,39}$`)
	memberPattern = regexp.MustCompile(`^members/M-[0-9]{4,6}$`)
)

// Login is one person's access. A person who is both officer and member has one login with both roles.
type Login struct {
	// Name is what the person types, 2 to 40 small letters, digits, dots, dashes and underscores.
	Name string
	// Roles it acts in.
	Roles []accessv1.Role
	// Member is "members/M-0007" for a login that belongs to a member, else empty.
	Member string
	// Active is false once it was deactivated.
	Active bool
	// CreateTime is when it was made.
	CreateTime time.Time
}

// Actor is the login as the services know it.
func (l Login) Actor() access.Actor {
	return access.Actor{Login: "users/" + l.Name, Roles: l.Roles, Member: l.Member}
}

// normal is the one spelling of a login: people type capitals and spaces on phones. A NUL, which the database cannot be asked
// with, is in nobody's name.
func normal(name string) string {
	return strings.ToLower(strings.ReplaceAll(strings.TrimSpace(name), "\x00", "\uFFFD"))
}

func checkLogin(l Login) []apierr.Fault {
	var faults []apierr.Fault
	if !loginPattern.MatchString(l.Name) {
		faults = append(faults, apierr.Fault{Field: "login", Message: "must be 2 to 40 small letters, digits, dots, dashes or underscores, and begin with a letter"})
	}
	return append(faults, checkRoles(l)...)
}

func checkRoles(l Login) []apierr.Fault {
	var faults []apierr.Fault
	if len(l.Roles) == 0 {
		faults = append(faults, apierr.Fault{Field: "roles", Message: "must name at least one role"})
	}
	if slices.Contains(l.Roles, accessv1.Role_ROLE_SERVICE) {
		faults = append(faults, apierr.Fault{Field: "roles", Message: "SERVICE belongs to programs and cannot be given to a login"})
	}
	isMember := slices.Contains(l.Roles, accessv1.Role_ROLE_MEMBER)
	switch {
	case isMember && !memberPattern.MatchString(l.Member):
		faults = append(faults, apierr.Fault{Field: "member", Message: fmt.Sprintf("is %q, must be a member such as members/M-0007 for the role MEMBER", l.Member)})
	case !isMember && l.Member != "":
		faults = append(faults, apierr.Fault{Field: "member", Message: "is only for a login with the role MEMBER"})
	}
	return faults
}

// checkPassword never repeats the password in its message.
func checkPassword(field, login, password string) []apierr.Fault {
	length := utf8.RuneCountInString(password)
	switch {
	case length < LeastPassword || length > MostPassword:
		return []apierr.Fault{{Field: field, Message: fmt.Sprintf("has %d characters, must have %d to %d", length, LeastPassword, MostPassword)}}
	case normal(password) == login:
		return []apierr.Fault{{Field: field, Message: "is the same as the login"}}
	}
	return nil
}

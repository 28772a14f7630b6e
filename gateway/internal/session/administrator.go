package session

import (
	"context"
	"fmt"
	"slices"

	accessv1 "barrelhead.example/proto/gen/barrelhead/access/v1"
)

// operator is the actor of what is done with the database connection instead of a login.
const operator = "operator"

// EnsureAdministrator makes or mends an administrator. What is already right is left alone, sessions included.
func (k *Keeper) EnsureAdministrator(ctx context.Context, name, password string) error {
	name = normal(name)
	l, hash, err := k.credentials(ctx, name)
	if err != nil {
		return err
	}
	if l.Name == "" {
		_, err := k.Create(ctx, operator, Login{Name: name, Roles: []accessv1.Role{accessv1.Role_ROLE_ADMINISTRATOR}}, password)
		return err
	}
	if !slices.Contains(l.Roles, accessv1.Role_ROLE_ADMINISTRATOR) {
		l.Roles = append(l.Roles, accessv1.Role_ROLE_ADMINISTRATOR)
		if err := k.SetRoles(ctx, operator, l); err != nil {
			return err
		}
	}
	if !l.Active {
		if err := k.SetActive(ctx, operator, name, true); err != nil {
			return err
		}
	}
	same, err := k.hasher.matches(ctx, hash, password)
	if err != nil {
		return fmt.Errorf("check password: %w", err)
	}
	if same {
		return nil
	}
	return k.SetPassword(ctx, operator, name, password)
}

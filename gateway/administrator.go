package gateway

import (
	"context"
	"fmt"

	"go.uber.org/zap"

	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/config"
)

// CreateAdministrator makes sure that login exists, is active, may administer logins and has this password. It is for
// whoever holds the gateway's database connection: the first start of an installation, and the day the last
// administrator forgot the password. Repeating it changes nothing.
func CreateAdministrator(ctx context.Context, service config.Service, login, password string) error {
	db, err := openDatabase(ctx, Config{Service: service}, zap.NewNop())
	if err != nil {
		return err
	}
	defer db.Close()
	keeper := session.New(db, clock.System, session.DefaultPolicy())
	if err := keeper.EnsureAdministrator(ctx, login, password); err != nil {
		return fmt.Errorf("create administrator: %w", err)
	}
	return nil
}

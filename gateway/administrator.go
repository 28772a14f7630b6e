package gateway

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"go.uber.org/zap"
	"golang.org/x/term"

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

// ReadAdministrator is CreateAdministrator with a password read from in: asked for at a terminal, where nothing typed is
// shown, else the first line.
func ReadAdministrator(ctx context.Context, service config.Service, login string, in *os.File) error {
	password, err := readPassword(in)
	if err != nil {
		return fmt.Errorf("read the password of %s: %w", login, err)
	}
	return CreateAdministrator(ctx, service, login, password)
}

func readPassword(in *os.File) (string, error) {
	if fd := int(in.Fd()); term.IsTerminal(fd) {
		fmt.Fprint(os.Stderr, "Password (not shown): ")
		typed, err := term.ReadPassword(fd)
		fmt.Fprintln(os.Stderr)
		return string(typed), err
	}
	line, err := bufio.NewReader(in).ReadString('\n')
	if errors.Is(err, io.EOF) {
		err = nil // the last line may end with the file
	}
	return strings.TrimRight(line, "\r\n"), err
}

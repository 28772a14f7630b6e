// Command migrate brings every schema to the newest tables: migrate -url-file owner.url. It makes schemas and roles that are
// missing, waits for another run, and changes nothing when everything is new. With -services the roles get the passwords the
// services are going to use.
package main

import (
	"context"
	"flag"
	"fmt"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/command"
	"barrelhead.example/services/kit/config"
)

func main() {
	file := flag.String("url-file", "", "file with the connection string of a role that may create roles and schemas")
	services := flag.String("services", "", "folder with the connection string of every service, <schema>.url: its role is given the password in it")
	flag.Parse()
	command.Main("migrate", func(ctx context.Context) error { return run(ctx, *file, *services) })
}

func run(ctx context.Context, file, services string) error {
	owner, err := connection(file)
	if err != nil {
		return err
	}
	for _, schema := range migrations.Schemas() {
		if services != "" {
			if err := admit(ctx, owner, schema, filepath.Join(services, schema+".url")); err != nil {
				return err
			}
		}
		if err := migrations.Up(ctx, schema, owner); err != nil {
			return fmt.Errorf("%s: %w", schema, err)
		}
		fmt.Printf("%s is at version %d\n", schema, migrations.Latest(schema))
	}
	return nil
}

func connection(file string) (string, error) { return config.Database{URLFile: file}.Connection() }

// admit gives the role a service logs in as the password the service will show.
func admit(ctx context.Context, owner, schema, file string) error {
	text, err := connection(file)
	if err != nil {
		return err
	}
	service, err := pgx.ParseConfig(text)
	if err != nil {
		return fmt.Errorf("%s is no connection string", file) // the cause repeats it with its password
	}
	if role := migrations.AppRole(schema); service.User != role || service.Password == "" {
		return fmt.Errorf("%s must log in as %s, with a password; it says %q", file, role, service.User)
	}
	return migrations.Provision(ctx, owner, schema, migrations.Passwords{App: service.Password})
}

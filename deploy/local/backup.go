package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/migrations"
	"barrelhead.example/services/kit/logging"
)

// backUp refuses a folder that holds nothing: a backup of the wrong folder is found out when it is too late.
func backUp(ctx context.Context, home, file string) error {
	if _, err := os.Stat(home); err != nil {
		return fmt.Errorf("nothing is kept in %s: %w", home, err)
	}
	o, err := keptIn(home)
	if err != nil {
		return err
	}
	key, err := o.Backup(ctx, file)
	if err != nil {
		return fmt.Errorf("back up %s: %w", home, err)
	}
	fmt.Printf("Everything kept in %s is in %s.\nNot in it is the key of bank account numbers. Keep a copy apart from the backups:\n  %s\n", home, file, key)
	return nil
}

func restore(ctx context.Context, home, file string) error {
	o, err := keptIn(home)
	if err != nil {
		return err
	}
	r, err := o.Restore(ctx, file)
	if err != nil {
		return errors.Join(fmt.Errorf("restore %s into %s: %w", file, home, err),
			errors.New("what is in the folder now is not complete: remove it before trying again"))
	}
	for _, schema := range migrations.Schemas() {
		fmt.Printf("%-12s %8d events, each as it was recorded\n", schema, r.Events[schema])
	}
	if r.KeyMissing != "" {
		fmt.Printf("Put your copy of the key of bank account numbers back before the first start, or they cannot be read:\n  %s\n", r.KeyMissing)
	}
	return nil
}

// keptIn is the suite of a folder.
func keptIn(home string) (suite.Options, error) {
	log, err := logging.New("barrelhead", "warn")
	return suite.Options{Home: home, Log: log}, err
}

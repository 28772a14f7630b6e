package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/deploy/season"
	"barrelhead.example/gateway"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/settlement"
)

type flags struct {
	home, listen    string
	backup, restore string
	demo, once      bool
	members         int
	barrels         int
	lanes           int
}

func run(ctx context.Context, args []string) error {
	var f flags
	set := flag.NewFlagSet("local", flag.ContinueOnError)
	set.StringVar(&f.home, "home", ".barrelhead/up", "folder that holds everything that is kept")
	set.StringVar(&f.listen, "listen", "127.0.0.1:8420", "address of the pages and the API")
	set.StringVar(&f.backup, "backup", "", "write all that is kept into this new file and end; the suite may be running")
	set.StringVar(&f.restore, "restore", "", "fill a new -home from this file and end")
	set.BoolVar(&f.demo, "demo", false, "work an invented cooperative's season")
	set.BoolVar(&f.once, "once", false, "with -demo: end after printing")
	set.IntVar(&f.members, "members", season.Demo.Members, "with -demo: members")
	set.IntVar(&f.barrels, "barrels", season.Demo.Barrels, "with -demo: barrels")
	set.IntVar(&f.lanes, "lanes", 8, "with -demo: deliveries worked side by side")
	set.Usage = func() {
		fmt.Fprint(set.Output(), usage)
		set.PrintDefaults()
		fmt.Fprint(set.Output(), settingsHelp)
	}
	if err := set.Parse(args); err != nil {
		return err
	}
	home, err := filepath.Abs(f.home)
	if err != nil {
		return err
	}
	switch {
	case f.backup != "":
		return backUp(ctx, home, f.backup)
	case f.restore != "":
		return restore(ctx, home, f.restore)
	case f.demo:
		return runDemo(ctx, f, home)
	}
	return runUp(ctx, f, home)
}

func options(f flags, home string, coop config.Cooperative) (suite.Options, error) {
	o, err := keptIn(home)
	o.Listen, o.Cooperative = f.listen, coop
	return o, err
}

// runUp serves a real cooperative: settings and the administrator are asked for once.
func runUp(ctx context.Context, f flags, home string) error {
	settings, err := loadSettings(home)
	if err != nil {
		return err
	}
	o, err := options(f, home, settings.Cooperative)
	if err != nil {
		return err
	}
	o.GS1Prefix, o.DisputeDays, o.Dock, o.Office = settings.GS1Prefix, settings.DisputeDays, settings.Dock, settings.Office
	return suite.Run(ctx, o, func(ctx context.Context, r suite.Running) error {
		if err := settings.open(ctx, home, r); err != nil {
			return err
		}
		fmt.Printf("%s is open at %s\nEverything is kept in %s. Stop with Ctrl-C; start again with deploy/up.\n", settings.Cooperative.Name, r.URL, home)
		<-ctx.Done()
		return nil
	})
}

// runDemo serves the invented cooperative and works its season.
func runDemo(ctx context.Context, f flags, home string) error {
	coop := config.Cooperative{
		Name: "Fallow Creek Honey Cooperative", Site: "FC", Unit: "LB", Currency: "USD", TimeZone: "America/Chicago",
	}
	o, err := options(f, home, coop)
	if err != nil {
		return err
	}
	// The prefix GS1 demonstrates with, which no company has.
	o.GS1Prefix, o.DisputeDays = "0614141", 30
	// 021000021 is a published example of a valid routing number; the bank and the fee are invented.
	o.Office = settlement.House{
		Bank:       settlement.Bank{Name: "Fallow Creek Honey", RoutingNumber: "021000021", BankName: "First Valley Bank", CompanyID: "1234567890"},
		RefereeFee: settlement.RefereeFee{Amount: "85.00", Authority: "House rules of appeals, rule 4"},
		Contact:    settlement.Contact{PostalAddress: "14 Mill Road, Fallow Creek", Telephone: "555-0142", Email: "office@fallowcreek.example"},
	}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	return suite.Run(ctx, o, func(ctx context.Context, r suite.Running) error {
		defer stop()
		if err := gateway.CreateAdministrator(ctx, r.Services["gateway"], "admin", season.Password); err != nil {
			return err
		}
		if err := workSeason(ctx, f, r.URL); err != nil {
			return err
		}
		if f.once {
			return nil
		}
		printLogins(r.URL)
		<-ctx.Done()
		return nil
	})
}

func workSeason(ctx context.Context, f flags, url string) error {
	client := season.NewClient(url, 2*time.Minute)
	year, err := season.CropYear(ctx, client, time.Now())
	if err != nil {
		return err
	}
	crew := &season.Crew{Season: season.New(season.Size{Members: f.members, Barrels: f.barrels}, year), Lanes: f.lanes, Progress: progress()}
	if err := crew.Work(ctx, client, "admin", season.Password); err != nil {
		return err
	}
	if _, err := crew.Settled(ctx, 2*time.Minute); err != nil {
		return err
	}
	for _, late := range []func(context.Context) error{crew.ClosePool, crew.ScreenResidues} {
		if err := late(ctx); err != nil {
			return err
		}
	}
	report, err := crew.Settled(ctx, 2*time.Minute)
	if err != nil {
		return err
	}
	if err := crew.AddUp(ctx, report); err != nil {
		return err
	}
	if err := report.Print(os.Stdout); err != nil {
		return err
	}
	if difference, err := report.Difference(); err != nil || difference != 0 {
		return fmt.Errorf("the totals do not agree: difference %s", difference)
	}
	batch, err := crew.PayMembers(ctx)
	if err != nil {
		return err
	}
	if err := season.PrintBatch(os.Stdout, batch); err != nil {
		return err
	}
	return packHoney(ctx, crew)
}

// packHoney works the warehouse chapter; a season made too small for it ends without.
func packHoney(ctx context.Context, crew *season.Crew) error {
	packed, err := crew.PackHoney(ctx)
	if small, ok := errors.AsType[*season.NoPlanError](err); ok {
		_, err := fmt.Printf("\nThe season brought too little honey for the warehouse to pack and sell: %s\n", small.Explanation)
		return err
	}
	if err != nil {
		return err
	}
	return packed.Print(os.Stdout)
}

// progress says how far the season is, once a tenth.
func progress() func(done, total int) {
	start := time.Now()
	return func(done, total int) {
		if step := max(total/10, 1); done%step == 0 {
			fmt.Fprintf(os.Stderr, "%5d of %d barrels weighed, graded and stored after %s\n", done, total, time.Since(start).Round(time.Second))
		}
	}
}

func printLogins(url string) {
	fmt.Printf("\npages  %s/\nAPI    %s/v1/openapi.json\n\nlogin        role\n", url, url)
	for _, staff := range season.Staff {
		fmt.Printf("%-12s %s\n", staff.Login, staff.Role)
	}
	fmt.Printf("%-12s %s\n%-12s %s\n", "m-0001 …", "MEMBER", "admin", "ADMINISTRATOR")
	fmt.Printf("password of all of them: %s\n\nStop with Ctrl-C.\n", season.Password)
}

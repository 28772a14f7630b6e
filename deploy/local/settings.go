package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/term"

	"barrelhead.example/deploy/local/suite"
	"barrelhead.example/gateway"
	"barrelhead.example/services/intake"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/settlement"
)

const settingsFile = "settings.json"

// settings of a real cooperative, kept in its folder.
type settings struct {
	Cooperative config.Cooperative `json:"cooperative"`
	// GS1Prefix and DisputeDays may be written into the file later; see gateway.Config.
	GS1Prefix   string `json:"gs1_company_prefix,omitempty"`
	DisputeDays int    `json:"dispute_days,omitempty"`
	// Dock may be written into the file later: the indicators of the scales, how long portions are kept; see intake.House.
	Dock intake.House `json:"dock,omitzero"`
	// Office may be written into the file later: the cooperative's bank, without which there are no payment files, the fee of
	// the referee laboratory; see settlement.House.
	Office settlement.House `json:"office,omitzero"`
	// Administrator is the login that was created first.
	Administrator string `json:"administrator"`

	password string
}

// question is one setting asked for at the first start: from the environment, else at the terminal.
type question struct {
	env, prompt, standard string
	into                  *string
}

// loadSettings reads the settings of an earlier start, or asks for them.
func loadSettings(home string) (*settings, error) {
	s := &settings{}
	err := config.Load(filepath.Join(home, settingsFile), s)
	if err == nil || !errors.Is(err, fs.ErrNotExist) {
		return s, err
	}
	if err := s.ask(); err != nil {
		return nil, err
	}
	if faults := s.Cooperative.Check(); len(faults) > 0 {
		return nil, fmt.Errorf("cooperative.%s %s", faults[0].Path, faults[0].Message)
	}
	return s, nil
}

// open creates the administrator and then keeps the settings: a start that was cut short in between asks again. Later
// starts know no password and need none.
func (s *settings) open(ctx context.Context, home string, r suite.Running) error {
	if s.password == "" {
		return nil
	}
	if err := gateway.CreateAdministrator(ctx, r.Services["gateway"], s.Administrator, s.password); err != nil {
		return err
	}
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(home, settingsFile), append(text, '\n'), 0o600)
}

func (s *settings) ask() error {
	in := bufio.NewReader(os.Stdin)
	for _, q := range []question{
		{"BARRELHEAD_NAME", "Name of the cooperative", "", &s.Cooperative.Name},
		{"BARRELHEAD_SITE", "Short code of the site, two to four capital letters", "", &s.Cooperative.Site},
		{"BARRELHEAD_UNIT", "Unit of weight, LB or KG", "LB", &s.Cooperative.Unit},
		{"BARRELHEAD_CURRENCY", "Currency code", "USD", &s.Cooperative.Currency},
		{"BARRELHEAD_TIME_ZONE", "Time zone", "America/Chicago", &s.Cooperative.TimeZone},
		{"BARRELHEAD_ADMIN", "Login of the administrator", "admin", &s.Administrator},
	} {
		if err := q.answer(in); err != nil {
			return err
		}
	}
	return s.askPassword()
}

func (q question) answer(in *bufio.Reader) error {
	if *q.into = os.Getenv(q.env); *q.into != "" {
		return nil
	}
	if !term.IsTerminal(int(os.Stdin.Fd())) {
		if *q.into = q.standard; q.standard == "" {
			return fmt.Errorf("%s is not set and there is no terminal to ask at: %s", q.env, q.prompt)
		}
		return nil
	}
	fmt.Printf("%s [%s]: ", q.prompt, q.standard)
	line, err := in.ReadString('\n')
	if err != nil {
		return err
	}
	if *q.into = strings.TrimSpace(line); *q.into == "" {
		*q.into = q.standard
	}
	return nil
}

func (s *settings) askPassword() error {
	if s.password = os.Getenv("BARRELHEAD_ADMIN_PASSWORD"); s.password != "" {
		return nil
	}
	fd := int(os.Stdin.Fd())
	if !term.IsTerminal(fd) {
		return errors.New("BARRELHEAD_ADMIN_PASSWORD is not set and there is no terminal to ask at")
	}
	fmt.Print("Password of the administrator (not shown): ")
	typed, err := term.ReadPassword(fd)
	fmt.Println()
	s.password = string(typed)
	return err
}

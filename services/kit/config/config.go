// Package config is the settings every service shares, read from one strict JSON file.
package config

import (
	"fmt"
	"net/url"
	"os"
	"strings"
	"time"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/mtls"
)

// Service is what each service is told about itself and its neighbours.
type Service struct {
	// Name is the service's name: intake, grading, inventory, settlement or gateway. Empty means the program's own.
	Name string `json:"name"`
	// Listen is the address for RPCs, e.g. ":7101". Port 0 takes any free one.
	Listen string `json:"listen"`
	// DebugListen is the address for metrics, health and profiles; empty switches them off. Keep it off public networks.
	DebugListen string `json:"debug_listen"`
	// LogLevel is debug, info, warn or error; empty means info.
	LogLevel string   `json:"log_level"`
	Database Database `json:"database"`
	// TLS are the certificate files of this service.
	TLS mtls.Files `json:"tls"`
	// Peers maps the name of a service to its address, e.g. "intake": "dns:///intake:7101".
	Peers       map[string]string `json:"peers"`
	Cooperative Cooperative       `json:"cooperative"`
	// OTLPEndpoint is the address of a trace collector; "http://host:port" is plain text. Empty sends no traces.
	OTLPEndpoint string `json:"otlp_endpoint"`
	// Reflection answers gRPC reflection. For development only.
	Reflection bool `json:"reflection"`
	// Clock is for tests in the same process, e.g. of a deadline weeks away; nil is the machine's. No file can set it.
	Clock clock.Clock `json:"-"`
}

// Time is the clock the service goes by.
func (s Service) Time() clock.Clock {
	if s.Clock == nil {
		return clock.System
	}
	return s.Clock
}

// Database says where the schema of the service lives.
type Database struct {
	// URL is a connection string without a password.
	URL string `json:"url"`
	// URLFile names a file that holds the connection string, with its password. It wins over URL.
	URLFile string `json:"url_file"`
}

// Connection returns the connection string, read anew from URLFile where that is set.
func (d Database) Connection() (string, error) {
	if d.URLFile == "" {
		return d.URL, nil
	}
	content, err := os.ReadFile(d.URLFile)
	if err != nil {
		return "", fmt.Errorf("read database connection string: %w", err)
	}
	return strings.TrimSpace(string(content)), nil
}

// Cooperative is who runs the suite. All services of one deployment must be given the same.
type Cooperative struct {
	// Name is the full name, as printed on tickets and statements.
	Name string `json:"name"`
	// Site is the short code that starts ticket numbers: two to four capital letters.
	Site string `json:"site"`
	// Unit is "LB" or "KG": the one unit everything is weighed and paid in.
	Unit string `json:"unit"`
	// Currency is an ISO 4217 code.
	Currency string `json:"currency"`
	// TimeZone is the name of the zone that decides what "today" is, e.g. "America/Chicago".
	TimeZone string `json:"time_zone"`
}

// Location is the loaded time zone.
func (c Cooperative) Location() (*time.Location, error) {
	zone, err := time.LoadLocation(c.TimeZone)
	if err != nil {
		return nil, fmt.Errorf("time zone of the cooperative: %w", err)
	}
	return zone, nil
}

// Check lists what is wrong with the shared settings.
func (s Service) Check() []Fault {
	var faults []Fault
	if s.Listen == "" {
		faults = append(faults, Fault{"listen", `is missing; give an address such as ":7101"`})
	}
	for _, name := range s.TLS.Missing() {
		faults = append(faults, Fault{"tls." + name, "is missing; deploy/certs makes a set for development"})
	}
	for name, address := range s.Peers {
		if address == "" {
			faults = append(faults, Fault{"peers." + name, "has no address"})
		}
	}
	return faults
}

// Check refuses a password in the settings file: settings are read by more people than secrets are.
func (d Database) Check() []Fault {
	parsed, err := url.Parse(d.URL)
	if err != nil {
		return []Fault{{"url", "is not a connection URL"}}
	}
	if _, has := parsed.User.Password(); has || parsed.Query().Has("password") {
		return []Fault{{"url", "holds a password; put the connection string in a file and name it in url_file"}}
	}
	return nil
}

// Check lists what is wrong with the cooperative's settings. One that is empty altogether is accepted: not every
// program needs it.
func (c Cooperative) Check() []Fault {
	if c == (Cooperative{}) {
		return nil
	}
	var faults []Fault
	if c.Name == "" {
		faults = append(faults, Fault{"name", "is missing"})
	}
	if !capitals(c.Site, 2, 4) {
		faults = append(faults, Fault{"site", fmt.Sprintf("is %q, must be two to four capital letters", c.Site)})
	}
	if c.Unit != "LB" && c.Unit != "KG" {
		faults = append(faults, Fault{"unit", fmt.Sprintf("is %q, must be LB or KG", c.Unit)})
	}
	if !capitals(c.Currency, 3, 3) {
		faults = append(faults, Fault{"currency", fmt.Sprintf("is %q, must be an ISO 4217 code such as USD", c.Currency)})
	}
	if _, err := time.LoadLocation(c.TimeZone); err != nil || c.TimeZone == "" {
		faults = append(faults, Fault{"time_zone", fmt.Sprintf("is %q, must be a name such as America/Chicago", c.TimeZone)})
	}
	return faults
}

func capitals(s string, least, most int) bool {
	for _, r := range s {
		if r < 'A' || r > 'Z' {
			return false
		}
	}
	return len(s) >= least && len(s) <= most
}

package gateway

import (
	"fmt"
	"time"

	"barrelhead.example/gateway/internal/edge"
	"barrelhead.example/gateway/internal/paper"
	"barrelhead.example/gateway/internal/session"
	"barrelhead.example/services/kit/config"
)

// Ways browsers reach the gateway.
const (
	// TransportLoopback is plain HTTP to the same machine only; the default without a certificate.
	TransportLoopback = ""
	// TransportProxy is plain HTTP from a reverse proxy that ends HTTPS.
	TransportProxy = "proxy"
	// TransportPlain is plain HTTP on a network nobody else can listen to.
	TransportPlain = "plain"
)

// Config is what the gateway is told.
type Config struct {
	config.Service
	// HTTPS are the files of the public certificate; empty for none.
	HTTPS HTTPS `json:"https"`
	// Transport says how passwords are kept from listeners when there is no HTTPS certificate: "proxy", "plain", or
	// empty, which accepts a loopback address only.
	Transport string `json:"transport"`
	// TrustedProxies are the networks of our own reverse proxies, whose X-Forwarded-For is believed.
	TrustedProxies []string `json:"trusted_proxies"`
	// SessionIdle ends a session that was not used for so long; 0 means 12 h.
	SessionIdle config.Duration `json:"session_idle"`
	// SessionMost ends every session so long after it began; 0 means 7 days.
	SessionMost config.Duration `json:"session_most"`
	// GS1Prefix is the company prefix of the shipping container codes on drums, 7 to 9 digits as GS1 gave them; empty prints
	// numbers of one's own instead. It must be of this site alone: a code is made of ticket and line, which other sites
	// have too.
	GS1Prefix string `json:"gs1_company_prefix"`
	// DisputeDays is until how many days after a delivery its ticket says that it can be questioned; 0 prints no date.
	DisputeDays int `json:"dispute_days"`
}

// HTTPS are PEM files.
type HTTPS struct {
	Cert string `json:"cert"`
	Key  string `json:"key"`
}

// Check lists what is wrong with the settings of the gateway beyond those every service has.
func (c Config) Check() []config.Fault {
	faults := c.Service.Check()
	if (c.HTTPS.Cert == "") != (c.HTTPS.Key == "") {
		faults = append(faults, config.Fault{Path: "https", Message: "needs both cert and key"})
	}
	switch c.Transport {
	case TransportLoopback, TransportProxy, TransportPlain:
	default:
		faults = append(faults, config.Fault{Path: "transport", Message: fmt.Sprintf(`is %q, must be "proxy", "plain" or absent`, c.Transport)})
	}
	if _, err := edge.ParseProxies(c.TrustedProxies); err != nil {
		faults = append(faults, config.Fault{Path: "trusted_proxies", Message: err.Error()})
	}
	if wrong := paper.CheckPrefix(c.GS1Prefix); wrong != "" {
		faults = append(faults, config.Fault{Path: "gs1_company_prefix", Message: wrong})
	}
	if c.DisputeDays < 0 || c.DisputeDays > 366 {
		faults = append(faults, config.Fault{Path: "dispute_days", Message: fmt.Sprintf("is %d, must be 0 to 366", c.DisputeDays)})
	}
	for _, peer := range peers {
		if c.Peers[peer] == "" {
			faults = append(faults, config.Fault{Path: "peers." + peer, Message: "is missing"})
		}
	}
	return faults
}

// secure says whether browsers come by HTTPS.
func (c Config) secure() bool { return c.HTTPS.Cert != "" || c.Transport == TransportProxy }

func (c Config) policy() session.Policy {
	p := session.DefaultPolicy()
	if c.SessionIdle > 0 {
		p.Idle = time.Duration(c.SessionIdle)
	}
	if c.SessionMost > 0 {
		p.Most = time.Duration(c.SessionMost)
	}
	return p
}

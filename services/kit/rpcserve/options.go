// Package rpcserve runs the gRPC server of a service, the same way for all of them: mutual TLS, who may call, health,
// limits, logs, metrics, traces, errors and an orderly end. A service only registers its implementations.
package rpcserve

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"strings"
	"time"

	"go.uber.org/zap"
	"google.golang.org/grpc"

	"barrelhead.example/services/kit/access"
	"barrelhead.example/services/kit/config"
	"barrelhead.example/services/kit/telemetry"
)

// Gateway is the certificate name that may speak for a person.
const Gateway = "gateway"

// Options say how to serve. Config, Log and Allow are required.
type Options struct {
	Config config.Service
	Log    *zap.Logger
	// Allow maps each registered gRPC service ("barrelhead.intake.v1.IntakeService") to the certificate names that may
	// call it. Health may be asked by all of them together.
	Allow map[string][]string
	// Health reports why the service cannot work just now, e.g. that its database is away; nil is always healthy.
	Health func(context.Context) error
	// Metrics the service made its own in; nil makes a new registry.
	Metrics *telemetry.Registry
	// Traces the service's clients share; nil opens Config.OTLPEndpoint.
	Traces *telemetry.Traces
	// Debug listens for metrics, health and profiles instead of Config.DebugListen.
	Debug net.Listener
	// HealthEvery is the time between two health checks, 2 s when zero.
	HealthEvery time.Duration
	// Linger is how long to go on after saying NOT_SERVING, for balancers that do not watch health but ask now and then.
	Linger time.Duration
	// StopWithin caps the wait for calls in flight, 15 s when zero.
	StopWithin time.Duration
	// Deadline is given to a unary call that brings none, 30 s when zero.
	Deadline time.Duration
}

func (o Options) withDefaults() Options {
	o.HealthEvery = orElse(o.HealthEvery, 2*time.Second)
	o.StopWithin = orElse(o.StopWithin, 15*time.Second)
	o.Deadline = orElse(o.Deadline, 30*time.Second)
	if o.Log == nil {
		o.Log = zap.NewNop()
	}
	if o.Metrics == nil {
		o.Metrics = telemetry.New(o.Config.Name)
	}
	return o
}

func orElse(d, fallback time.Duration) time.Duration {
	if d == 0 {
		return fallback
	}
	return d
}

// rules are what the guard knows: the declared callers of each RPC and the allowed peers of each service.
type rules struct {
	methods map[string]access.Rule
	peers   map[string][]string
	// anyone is everybody on some list; health and reflection are for them.
	anyone []string
}

// rulesFor checks what was registered against what is declared and allowed. Everything wrong is named at once, because
// each fault means a start that failed.
func rulesFor(registered map[string]grpc.ServiceInfo, allow map[string][]string) (rules, error) {
	r := rules{methods: map[string]access.Rule{}, peers: allow}
	var faults []error
	for service := range registered {
		if !access.Ours(service) {
			if !strings.HasPrefix(service, "grpc.") {
				faults = append(faults, fmt.Errorf("%s is not a service of this suite", service))
			}
			continue
		}
		if len(allow[service]) == 0 {
			faults = append(faults, fmt.Errorf("nobody is allowed to call %s", service))
		}
		declared, err := access.Declared(service)
		if err != nil {
			faults = append(faults, err)
		}
		for _, rule := range declared {
			r.methods[rule.Method] = rule
		}
	}
	for service, peers := range allow {
		if _, ok := registered[service]; !ok {
			faults = append(faults, fmt.Errorf("%s is in the allow-list but not served here", service))
		}
		r.anyone = append(r.anyone, peers...)
	}
	slices.Sort(r.anyone)
	r.anyone = slices.Compact(r.anyone)
	return r, errors.Join(faults...)
}

package rpcdial

import (
	"encoding/json"
	"strings"

	"barrelhead.example/services/kit/access"
)

type (
	name struct {
		Service string `json:"service"`
		Method  string `json:"method"`
	}
	retryPolicy struct {
		MaxAttempts          int      `json:"maxAttempts"`
		InitialBackoff       string   `json:"initialBackoff"`
		MaxBackoff           string   `json:"maxBackoff"`
		BackoffMultiplier    float64  `json:"backoffMultiplier"`
		RetryableStatusCodes []string `json:"retryableStatusCodes"`
	}
	methodConfig struct {
		Name        []name      `json:"name"`
		RetryPolicy retryPolicy `json:"retryPolicy"`
	}
)

// readingVerbs begin the names of RPCs that change nothing.
var readingVerbs = []string{"Get", "List", "BatchGet", "Evaluate", "Summarize", "Preview", "Search", "Trace", "Verify", "Explain"}

// serviceConfig is written in the JSON of the gRPC service config document.
func serviceConfig() string {
	settings := map[string]any{
		"loadBalancingConfig": []any{map[string]any{"round_robin": map[string]any{}}},
		"healthCheckConfig":   map[string]any{"serviceName": ""},
		// When most calls fail, repeating them makes it worse.
		"retryThrottling": map[string]any{"maxTokens": 20, "tokenRatio": 0.2},
	}
	if safe := safeMethods(); len(safe) > 0 {
		settings["methodConfig"] = []methodConfig{{Name: safe, RetryPolicy: retryPolicy{
			MaxAttempts: 4, InitialBackoff: "0.1s", MaxBackoff: "1s", BackoffMultiplier: 2,
			RetryableStatusCodes: []string{"UNAVAILABLE"},
		}}}
	}
	text, err := json.Marshal(settings)
	if err != nil {
		panic(err) // maps of plain values always marshal
	}
	return string(text)
}

// safeMethods are the unary RPCs linked into the program that may arrive twice.
func safeMethods() []name {
	var safe []name
	for _, rule := range access.Matrix() {
		if Safe(rule) {
			safe = append(safe, name{Service: rule.Service, Method: string(rule.Descriptor.Name())})
		}
	}
	return safe
}

// Safe reports whether an RPC may be sent again after it was lost: it reads, or its request_id makes a repeat answer
// with the first result.
func Safe(rule access.Rule) bool {
	method := rule.Descriptor
	if method.IsStreamingClient() || method.IsStreamingServer() {
		return false
	}
	if method.Input().Fields().ByName("request_id") != nil {
		return true
	}
	for _, verb := range readingVerbs {
		if strings.HasPrefix(string(method.Name()), verb) {
			return true
		}
	}
	return false
}

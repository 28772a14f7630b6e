package main

import (
	"context"
	"fmt"
	"os/exec"
	"strconv"
	"strings"
	"time"
)

// evaluations puts a full evaluation by the house standard on one core beside reading the same question off the wire and
// writing the same answer onto it, with nothing decided in between.
func (p plan) evaluations(ctx context.Context) error {
	return p.compare("evaluations by the house standard, one core", "protobuf: the same question read, the same answer written",
		func() (sample, error) { return p.bench(ctx, "^BenchmarkEvaluate$/^us-extracted-1985$") },
		func() (sample, error) { return p.bench(ctx, "^BenchmarkMessages$") })
}

// bench runs one benchmark of the laboratory and reads its rate.
func (p plan) bench(ctx context.Context, pattern string) (sample, error) {
	out, err := exec.CommandContext(ctx, "go", "test", "-run", "^$", "-cpu", "1", "-bench", pattern, "-benchtime", p.length.String(), //nolint:gosec // both patterns are ours
		"barrelhead.example/services/grading/internal/app").CombinedOutput()
	if err != nil {
		return sample{}, fmt.Errorf("%w: %s", err, out)
	}
	fields := strings.Fields(string(out))
	for i, field := range fields {
		if field == "evaluations/s" {
			rate, err := strconv.ParseFloat(fields[i-1], 64)
			return sample{rate, time.Duration(1e9 / rate)}, err
		}
	}
	return sample{}, fmt.Errorf("no evaluations/s in: %s", out)
}

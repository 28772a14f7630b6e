package main

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"time"
)

// sample is what one measurement saw.
type sample struct {
	perSecond float64
	p99       time.Duration
}

// load calls work from a number of streams until the time is up. Every stream finishes the call it is in.
func load(ctx context.Context, streams int, length time.Duration, work func(ctx context.Context, stream int) error) (sample, error) {
	var (
		wg    sync.WaitGroup
		mu    sync.Mutex
		all   []time.Duration
		fault error
	)
	start := time.Now()
	for stream := range streams {
		wg.Go(func() {
			var took []time.Duration
			var err error
			for time.Since(start) < length && err == nil {
				began := time.Now()
				err = work(ctx, stream)
				took = append(took, time.Since(began))
			}
			mu.Lock()
			defer mu.Unlock()
			all = append(all, took...)
			if fault == nil {
				fault = err
			}
		})
	}
	wg.Wait()
	if fault != nil {
		return sample{}, fault
	}
	return sample{float64(len(all)) / time.Since(start).Seconds(), p99(all)}, nil
}

func p99(took []time.Duration) time.Duration {
	slices.Sort(took)
	return took[len(took)*99/100]
}

// compare measures ours and the limit in turn and prints the medians with their ratio.
func (p plan) compare(what, limit string, ours, bare func() (sample, error)) error {
	var a, b []sample
	for range p.rounds {
		for _, side := range []struct {
			take func() (sample, error)
			into *[]sample
		}{{ours, &a}, {bare, &b}} {
			s, err := side.take()
			if err != nil {
				return fmt.Errorf("%s: %w", what, err)
			}
			*side.into = append(*side.into, s)
		}
	}
	oursRate, bareRate := median(a, sample.rate), median(b, sample.rate)
	ours99, bare99 := median(a, sample.tail), median(b, sample.tail)
	fmt.Printf("%s\n  ours   %10.0f /s   p99 %8.2f ms\n  limit  %10.0f /s   p99 %8.2f ms   (%s)\n  ratio  %10.2f      p99 %8.2f\n\n",
		what, oursRate, ours99, bareRate, bare99, limit, oursRate/bareRate, ours99/bare99)
	return nil
}

func (s sample) rate() float64 { return s.perSecond }
func (s sample) tail() float64 { return float64(s.p99.Microseconds()) / 1000 }

func median[T any](samples []T, figure func(T) float64) float64 {
	var values []float64
	for _, s := range samples {
		values = append(values, figure(s))
	}
	slices.Sort(values)
	return values[len(values)/2]
}

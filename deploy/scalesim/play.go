package scalesim

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"strings"
	"time"

	"barrelhead.example/services/kit/quantity"
)

// Words explains the language of scripts.
const Words = `put 684.5      put a load on, or change it        clear          take it off
settle         wait until it stands still         wait 2s        wait that long
show lb        switch the unit                    tare / gross   show net / gross
frozen jammed over under garbage endless half silence   begin a fault
healthy        end it                             disconnect     close all connections
unplug / plug  refuse connections / accept them   # …            a remark`

const lookEvery = 5 * time.Millisecond

// Play does what a script says, one command a line, until its end or the end of ctx.
func (h *Hub) Play(ctx context.Context, script io.Reader) error {
	lines := bufio.NewScanner(script)
	for n := 1; lines.Scan(); n++ {
		command, _, _ := strings.Cut(lines.Text(), "#")
		word, rest, _ := strings.Cut(strings.TrimSpace(command), " ")
		if word == "" {
			continue
		}
		if err := h.do(ctx, word, strings.TrimSpace(rest)); err != nil {
			return fmt.Errorf("line %d: %s: %w", n, word, err)
		}
	}
	return lines.Err()
}

func (h *Hub) do(ctx context.Context, word, rest string) error {
	switch f := Fault(word); f {
	case Healthy, Frozen, Jammed, Over, Under, Garbage, Endless, Half, Silence:
		h.scale.Set(f)
		return nil
	}
	switch word {
	case "put":
		m, err := quantity.ParseMass(rest)
		if err != nil {
			return err
		}
		h.scale.Put(m)
	case "clear":
		h.scale.Put(0)
	case "show":
		h.scale.Show(rest, false)
	case "tare", "gross":
		h.scale.Show(h.scale.shownUnit(), word == "tare")
	case "disconnect":
		h.Disconnect()
	case "unplug", "plug":
		h.Unplug(word == "unplug")
	case "wait":
		d, err := time.ParseDuration(rest)
		if err != nil {
			return err
		}
		return wait(ctx, d)
	case "settle":
		return h.settle(ctx)
	default:
		return fmt.Errorf("is no command; the commands are\n%s", Words)
	}
	return nil
}

func (s *Scale) shownUnit() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.unit
}

func (h *Hub) settle(ctx context.Context) error {
	for !h.scale.Still() {
		if err := wait(ctx, lookEvery); err != nil {
			return err
		}
	}
	return nil
}

func wait(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-timer.C:
		return nil
	}
}

package indicator

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"net"
	"os"
	"sync"
	"time"

	"go.uber.org/zap"

	"barrelhead.example/services/kit/clock"
	"barrelhead.example/services/kit/quantity"
)

const (
	firstWait = 200 * time.Millisecond
	mostWait  = 5 * time.Second
	// redialAfter silences the connection is opened anew: one whose other end lost its power says nothing at all.
	redialAfter = 5
	// readAtOnce is small enough that a burst does not hold up whoever asks for the newest line.
	readAtOnce = 4096
)

// Reader keeps the connection to one indicator and the newest indication.
type Reader struct {
	settings Settings
	address  address
	clock    clock.Clock
	log      *zap.Logger

	mu      sync.Mutex
	tracker *tracker
	// connected is false while there is no connection; why says since when and for what reason.
	connected bool
	why       string
	lines     uint64
}

// New makes a reader for a cooperative that weighs in unit. It reads nothing before Run.
func New(s Settings, unit quantity.Unit, c clock.Clock, log *zap.Logger) (*Reader, error) {
	if faults := s.Check(); len(faults) > 0 {
		return nil, fmt.Errorf("%s %s", faults[0].Path, faults[0].Message)
	}
	s = s.withDefaults()
	where, err := parseAddress(s.Address)
	if err != nil {
		return nil, fmt.Errorf("address %w", err)
	}
	t, err := newTracker(s, unit)
	if err != nil {
		return nil, err
	}
	return &Reader{settings: s, address: where, clock: c, log: log.With(zap.String("indicator", s.Address)), tracker: t, why: "not tried yet"}, nil
}

// Latest is what is known now.
func (r *Reader) Latest() Indication {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.connected {
		return Indication{
			State:   Disconnected,
			Message: fmt.Sprintf("is not connected (%s): check power, cable and address; it is tried again by itself", r.why),
		}
	}
	return r.tracker.at(r.clock.Now())
}

// Doubt calls the indicator stuck, for the reason given, until it is seen to move. It continues "scale 2 ".
func (r *Reader) Doubt(why string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.tracker.doubt = why
}

// Lines is how many whole lines have been read.
func (r *Reader) Lines() uint64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.lines
}

// Run reads until ctx ends, and connects again whenever the connection is lost.
func (r *Reader) Run(ctx context.Context) {
	wait, told := firstWait, ""
	for ctx.Err() == nil {
		before := r.Lines()
		err := r.session(ctx)
		if ctx.Err() != nil {
			return
		}
		if r.Lines() > before {
			wait, told = firstWait, ""
		}
		// Once for each cause: a scale that is switched off overnight is no news every five seconds.
		if why := reason(err); why != told {
			r.log.Warn("no connection to the indicator", zap.Error(err), zap.String("reason", why))
			told = why
		}
		if !pause(ctx, wait) {
			return
		}
		wait = min(2*wait, mostWait)
	}
}

// pause waits between half of d and d, so that readers cut off together do not all come back at once.
func pause(ctx context.Context, d time.Duration) bool {
	timer := time.NewTimer(d/2 + rand.N(d/2)) //nolint:gosec // nothing to be guessed
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return false
	case <-timer.C:
		return true
	}
}

// session is one connection, from opening it to its end.
func (r *Reader) session(ctx context.Context) error {
	conn, err := r.address.open(ctx)
	if err != nil {
		r.lost(err)
		return err
	}
	r.log.Info("connected to the indicator")
	r.mu.Lock()
	r.connected = true
	r.tracker.broken()
	r.mu.Unlock()
	// Closing ends the read under way.
	stop := context.AfterFunc(ctx, func() { _ = conn.Close() })
	err = r.readAll(conn)
	if stop() {
		err = errors.Join(err, conn.Close())
	}
	r.lost(err)
	return err
}

func (r *Reader) lost(err error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.connected, r.why = false, reason(err)
	r.tracker.broken()
}

func (r *Reader) readAll(conn link) error {
	cut := newFramer(r.settings)
	buf := make([]byte, readAtOnce)
	for {
		patience := redialAfter * time.Duration(r.settings.SilentAfter)
		if err := conn.SetReadDeadline(time.Now().Add(patience)); err != nil { //nolint:forbidigo // the network knows no other clock
			return err
		}
		n, err := conn.Read(buf)
		r.take(cut, buf[:n])
		if err != nil {
			return err
		}
	}
}

func (r *Reader) take(cut *framer, p []byte) {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.clock.Now()
	cut.write(p,
		func(line []byte) { r.lines++; r.tracker.line(line, now) },
		func(bytes []byte) { r.tracker.tooLong(bytes, now) })
}

// reason is a cause in words for people; what the system says goes to the log.
func reason(err error) string {
	var dns *net.DNSError
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return "nothing was sent for a long time"
	case errors.Is(err, io.EOF):
		return "the other end closed the connection"
	case errors.Is(err, fs.ErrNotExist):
		return "there is no such port"
	case errors.Is(err, fs.ErrPermission):
		return "this program may not open the port"
	case errors.As(err, &dns):
		return "its name is not known on the network"
	default:
		return because(err)
	}
}

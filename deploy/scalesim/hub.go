package scalesim

import (
	"context"
	"io"
	"net"
	"sync"
	"time"
)

// writeWithin drops what nobody reads: an indicator does not wait for its listener.
const writeWithin = 50 * time.Millisecond

// wire is a connection somebody may read.
type wire interface {
	io.WriteCloser
	SetWriteDeadline(t time.Time) error
}

// Hub sends what a scale says to everybody connected.
type Hub struct {
	scale *Scale
	every time.Duration

	mu        sync.Mutex
	unplugged bool
	wires     map[wire]bool
}

// NewHub sends a line each time every passes; 0 sends as fast as they are read.
func NewHub(s *Scale, every time.Duration) *Hub {
	return &Hub{scale: s, every: every, wires: map[wire]bool{}}
}

// Run sends until ctx ends, then closes all connections.
func (h *Hub) Run(ctx context.Context) {
	defer h.Disconnect()
	ticker := time.NewTicker(max(h.every, time.Microsecond))
	defer ticker.Stop()
	for ctx.Err() == nil {
		if h.every > 0 {
			select {
			case <-ctx.Done():
				return
			case <-ticker.C:
			}
		}
		h.send(h.scale.Next())
	}
}

func (h *Hub) send(line []byte) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for w := range h.wires {
		_ = w.SetWriteDeadline(time.Now().Add(writeWithin)) // a wire without deadlines is closed by the next error
		if _, err := w.Write(line); err != nil && !late(err) {
			_ = w.Close()
			delete(h.wires, w)
		}
	}
}

func late(err error) bool {
	timeout, ok := err.(net.Error) //nolint:errorlint // both kinds of wire return it as it is
	return ok && timeout.Timeout()
}

// Connect adds a connection; while unplugged it is closed at once.
func (h *Hub) Connect(w wire) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.unplugged {
		_ = w.Close()
		return
	}
	h.wires[w] = true
}

// Disconnect closes all connections; new ones are welcome.
func (h *Hub) Disconnect() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for w := range h.wires {
		_ = w.Close()
	}
	clear(h.wires)
}

// Unplug closes all connections and refuses new ones until plugged in again.
func (h *Hub) Unplug(out bool) {
	h.mu.Lock()
	h.unplugged = out
	h.mu.Unlock()
	if out {
		h.Disconnect()
	}
}

// Connections is how many there are.
func (h *Hub) Connections() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.wires)
}

// Accept takes TCP connections until the listener is closed.
func (h *Hub) Accept(lis net.Listener) {
	for {
		conn, err := lis.Accept()
		if err != nil {
			return
		}
		tcp, ok := conn.(*net.TCPConn)
		if !ok {
			_ = conn.Close()
			continue
		}
		h.Connect(tcp)
	}
}

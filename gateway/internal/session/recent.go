package session

import (
	"sync"
	"time"
)

const (
	// freshFor is how long a session that was read is taken as read: a page asks for it several times within moments. A
	// change made in this gateway counts at once, one made in another within this time.
	freshFor = time.Second
	// mostRecent bounds the memory; beyond it everything is read again.
	mostRecent = 10_000
)

// recent remembers the sessions read in the last moment, by the hash of their token.
type recent struct {
	mu       sync.Mutex
	sessions map[string]remembered
}

type remembered struct {
	session Session
	read    time.Time
}

func (r *recent) find(hash []byte, now time.Time) (Session, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	one, ok := r.sessions[string(hash)]
	age := now.Sub(one.read)
	return one.session, ok && age >= 0 && age < freshFor && now.Before(one.session.ExpireTime)
}

func (r *recent) keep(hash []byte, s Session, now time.Time) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.sessions == nil || len(r.sessions) >= mostRecent {
		r.sessions = map[string]remembered{}
	}
	r.sessions[string(hash)] = remembered{session: s, read: now}
}

// forget makes every session be read again, after a change.
func (r *recent) forget() {
	r.mu.Lock()
	defer r.mu.Unlock()
	clear(r.sessions)
}

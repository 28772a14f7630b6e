package edge

import (
	"fmt"
	"net/http"
	"net/netip"
	"strings"
)

// ParseProxies reads the networks whose X-Forwarded-For is believed, e.g. "10.0.0.0/8".
func ParseProxies(networks []string) ([]netip.Prefix, error) {
	prefixes := make([]netip.Prefix, 0, len(networks))
	for _, n := range networks {
		p, err := netip.ParsePrefix(n)
		if err != nil {
			return nil, fmt.Errorf("trusted proxy %q is not a network such as 10.0.0.0/8", n)
		}
		prefixes = append(prefixes, p)
	}
	return prefixes, nil
}

// addressOf is the caller's address. Behind trusted proxies it is the last entry of X-Forwarded-For that none of them
// wrote; from anyone else the header is ignored, or every guesser could choose a new address for each guess.
func addressOf(r *http.Request, trusted []netip.Prefix) string {
	peer, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	found := peer.Addr().Unmap()
	hops := strings.Split(strings.Join(r.Header.Values("X-Forwarded-For"), ","), ",")
	for i := len(hops) - 1; i >= 0 && isTrusted(found, trusted); i-- {
		hop, err := netip.ParseAddr(strings.TrimSpace(hops[i]))
		if err != nil {
			break
		}
		found = hop.Unmap()
	}
	return bucket(found)
}

func isTrusted(a netip.Addr, trusted []netip.Prefix) bool {
	for _, p := range trusted {
		if p.Contains(a) {
			return true
		}
	}
	return false
}

// bucket is the unit an attacker must pay for: one IPv4 address, or one IPv6 network of 64 bits, which every home has.
func bucket(a netip.Addr) string {
	if a.Is4() {
		return a.String()
	}
	p, err := a.WithZone("").Prefix(64)
	if err != nil {
		return a.String()
	}
	return p.String()
}

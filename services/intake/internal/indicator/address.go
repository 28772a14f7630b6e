package indicator

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"slices"
	"strconv"
	"time"
)

// link is an open connection to an indicator. Nothing is ever written to it.
type link interface {
	io.ReadCloser
	SetReadDeadline(t time.Time) error
}

// address is where an indicator is.
type address interface {
	open(ctx context.Context) (link, error)
	String() string
}

// dialWithin bounds one attempt to connect.
const dialWithin = 5 * time.Second

type tcpAddress string

func (a tcpAddress) String() string { return string(a) }

func (a tcpAddress) open(ctx context.Context) (link, error) {
	// Keep-alive finds out about a cable that was pulled while nothing was being sent.
	dialer := net.Dialer{Timeout: dialWithin, KeepAliveConfig: net.KeepAliveConfig{
		Enable: true, Idle: 5 * time.Second, Interval: 2 * time.Second, Count: 3,
	}}
	conn, err := dialer.DialContext(ctx, "tcp", string(a))
	if err != nil {
		return nil, err
	}
	return conn.(*net.TCPConn), nil //nolint:forcetypeassert // a TCP dialer makes nothing else
}

// serialLine are the settings of a serial port.
type serialLine struct {
	path string
	baud int
	// parity is 'n', 'e' or 'o'.
	parity byte
	data   int
	stop   int
}

func (l serialLine) String() string { return l.path }

func parseAddress(text string) (address, error) {
	if text == "" {
		return nil, errors.New(`is missing; give "tcp://host:port" or "serial:///dev/ttyUSB0?baud=9600"`)
	}
	u, err := url.Parse(text)
	if err != nil {
		return nil, errors.New("is no address such as tcp://host:port or serial:///dev/ttyUSB0?baud=9600")
	}
	switch {
	case u.Scheme == "tcp" && u.Path == "" && u.RawQuery == "" && u.User == nil && u.Hostname() != "" && u.Port() != "":
		return tcpAddress(u.Host), nil
	case u.Scheme == "serial" && u.Host == "" && u.Path != "":
		return parseSerial(u)
	default:
		return nil, fmt.Errorf("is %q, must be tcp://host:port or serial:///dev/ttyUSB0?baud=9600", text)
	}
}

func parseSerial(u *url.URL) (address, error) {
	l := serialLine{path: u.Path, baud: 9600, parity: 'n', data: 8, stop: 1}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return nil, errors.New("has a query that cannot be read")
	}
	for key, values := range query {
		if err := l.set(key, values); err != nil {
			return nil, err
		}
	}
	return l, nil
}

var parities = map[string]byte{"n": 'n', "none": 'n', "e": 'e', "even": 'e', "o": 'o', "odd": 'o'}

func (l *serialLine) set(key string, values []string) error {
	if len(values) != 1 {
		return fmt.Errorf("has %s more than once", key)
	}
	if key == "parity" {
		var known bool
		if l.parity, known = parities[values[0]]; !known {
			return fmt.Errorf("has parity %q, must be none, even or odd", values[0])
		}
		return nil
	}
	n, err := strconv.Atoi(values[0])
	choices := map[string][]int{"baud": bauds(), "data": {7, 8}, "stop": {1, 2}}[key]
	switch {
	case choices == nil:
		return fmt.Errorf("has %s; a serial port has baud, parity, data and stop", key)
	case err != nil || !slices.Contains(choices, n):
		return fmt.Errorf("has %s %q, must be one of %v", key, values[0], choices)
	}
	*map[string]*int{"baud": &l.baud, "data": &l.data, "stop": &l.stop}[key] = n
	return nil
}

// bauds are the speeds indicators have.
func bauds() []int { return []int{300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200} }

package scalesim_test

import (
	"bufio"
	"context"
	"io"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"barrelhead.example/deploy/scalesim"
	"barrelhead.example/services/kit/quantity"
)

var form = regexp.MustCompile(`\A` + scalesim.Pattern + "\r\n\\z")

// next is a line of the form, and its groups.
func next(t *testing.T, s *scalesim.Scale) (line, mark, weight string) {
	t.Helper()
	line = string(s.Next())
	found := form.FindStringSubmatch(line)
	require.NotNil(t, found, "%q", line)
	return line, found[1], strings.TrimSpace(found[3])
}

func TestALoadSwingsAndComesToRest(t *testing.T) {
	t.Parallel()
	s := scalesim.NewScale(500, "lb")
	line, mark, _ := next(t, s)
	require.Equal(t, "S G        0.0 lb\r\n", line)
	require.Equal(t, "S", mark)
	for _, load := range []quantity.Mass{684_500, 0, 47_000, -12_500, 1_050_000, 500} {
		s.Put(load)
		over := false
		for steps := 0; !s.Still(); steps++ {
			require.Less(t, steps, 100, "%s", load)
			_, mark, weight := next(t, s)
			m, err := quantity.ParseMass(weight)
			require.NoError(t, err)
			require.Zero(t, m%500, "at the division")
			over = over || m > load
			require.True(t, mark == "M" || m == load, "marked as still at %s instead of %s", m, load)
		}
		_, mark, weight := next(t, s)
		require.Equal(t, "S", mark)
		require.Equal(t, load.String(), weight)
		require.True(t, over || load < 500_000, "a heavy load overshoots")
	}
}

func TestFaults(t *testing.T) {
	t.Parallel()
	s := scalesim.NewScale(500, "lb")
	for fault, line := range map[scalesim.Fault]string{
		scalesim.Over: "O G ---------- lb\r\n", scalesim.Under: "U G __________ lb\r\n", scalesim.Silence: "",
		scalesim.Half: "  0.0 lb\r\n", scalesim.Endless: strings.Repeat("~", 64), scalesim.Jammed: "S G        0.0 lb\r\n",
	} {
		s.Set(fault)
		require.Equal(t, line, string(s.Next()), fault)
	}
	s.Set(scalesim.Garbage)
	first := string(s.Next())
	require.NotEqual(t, first, string(s.Next()))
	s.Set(scalesim.Healthy)
	before, _, _ := next(t, s)
	s.Set(scalesim.Frozen)
	s.Put(684_500)
	require.Equal(t, before, string(s.Next()))
	s.Set(scalesim.Jammed)
	jam, mark, _ := next(t, s)
	require.Equal(t, "M", mark)
	for range 100 {
		require.Equal(t, jam, string(s.Next()))
	}
	s.Set(scalesim.Healthy)
	s.Show("kg", true)
	line, _, _ := next(t, s)
	require.Equal(t, "S N      684.5 kg\r\n", line)
}

func TestScripts(t *testing.T) {
	t.Parallel()
	s := scalesim.NewScale(500, "lb")
	hub := scalesim.NewHub(s, time.Millisecond)
	go hub.Run(t.Context())
	require.NoError(t, hub.Play(t.Context(), strings.NewReader("# a barrel\nput 684.5 # gross\n\nsettle\nover\nwait 1ms\nhealthy\ntare\nshow kg\n")))
	line, _, _ := next(t, s)
	require.Equal(t, "S G      684.5 kg\r\n", line)
	for script, say := range map[string]string{
		"\nlift": "line 2: lift: is no command", "put x": "line 1: put", "wait x": "line 1: wait",
	} {
		require.ErrorContains(t, hub.Play(t.Context(), strings.NewReader(script)), say)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	require.ErrorIs(t, hub.Play(ended, strings.NewReader("wait 1h")), context.Canceled)
}

// The same bytes come over a socket and over a pseudo-terminal, and a cut connection is seen as one.
func TestBothWires(t *testing.T) {
	t.Parallel()
	s := scalesim.NewScale(500, "lb")
	hub := scalesim.NewHub(s, time.Millisecond)
	go hub.Run(t.Context())
	lis, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	t.Cleanup(func() { _ = lis.Close() })
	go hub.Accept(lis)
	link := filepath.Join(t.TempDir(), "scale")
	port, err := scalesim.OpenPort(link)
	require.NoError(t, err)
	hub.Connect(port)

	conn, err := net.Dial("tcp", lis.Addr().String())
	require.NoError(t, err)
	t.Cleanup(func() { _ = conn.Close() })
	terminal, err := os.Open(link)
	require.NoError(t, err)
	t.Cleanup(func() { _ = terminal.Close() })
	for _, wire := range []io.Reader{conn, terminal} {
		lines := bufio.NewReader(wire)
		for range 40 {
			line, err := lines.ReadString('\n')
			require.NoError(t, err)
			// A terminal nobody has set makes a line feed of the carriage return.
			require.Contains(t, []string{"S G        0.0 lb\r\n", "S G        0.0 lb\n", "\n"}, line)
		}
	}
	hub.Unplug(true)
	_, err = io.Copy(io.Discard, conn)
	require.NoError(t, err, "the end of the stream")
	// Whether that is an end or an error depends on when it happened; it must not go on.
	_, _ = io.Copy(io.Discard, terminal)
	require.Zero(t, hub.Connections())
}

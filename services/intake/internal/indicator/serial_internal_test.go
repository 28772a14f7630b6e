//go:build linux

package indicator

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"barrelhead.example/deploy/scalesim"
)

func TestASerialLineIsShaped(t *testing.T) {
	t.Parallel()
	for text, flags := range map[string]uint32{
		"serial:///dev/ttyS0":                                    unix.B9600 | unix.CS8,
		"serial:///dev/ttyS0?baud=2400&parity=even&data=7":       unix.B2400 | unix.CS7 | unix.PARENB,
		"serial:///dev/ttyS0?baud=115200&parity=odd&stop=2":      unix.B115200 | unix.CS8 | unix.PARENB | unix.PARODD | unix.CSTOPB,
		"serial:///dev/ttyS0?baud=300&parity=none&data=8&stop=1": unix.B300 | unix.CS8,
	} {
		where, err := parseAddress(text)
		require.NoError(t, err)
		line, ok := where.(serialLine)
		require.True(t, ok)
		set := unix.Termios{Iflag: unix.ICRNL, Lflag: unix.ECHO | unix.ICANON, Cflag: unix.CRTSCTS}
		line.shape(&set)
		require.Equal(t, flags|unix.CREAD|unix.CLOCAL, set.Cflag, text)
		require.Zero(t, set.Lflag)
		require.Equal(t, line.parity != 'n', set.Iflag == unix.INPCK, "wrong parity makes a character unreadable")
		require.Len(t, speeds, len(bauds()))
	}
}

// A terminal as it comes, with line editing and translation, is made to pass every byte on, and only to this program.
func TestATerminalIsTakenOver(t *testing.T) {
	t.Parallel()
	link := filepath.Join(t.TempDir(), "scale")
	port, err := scalesim.OpenPort(link)
	require.NoError(t, err)
	t.Cleanup(func() { _ = port.Close() })
	_, err = port.WriteString("from before\n")
	require.NoError(t, err)
	line := serialLine{path: link, baud: 2400, parity: 'n', data: 8, stop: 1}
	taken, err := line.open(t.Context())
	require.NoError(t, err)
	t.Cleanup(func() { _ = taken.Close() })
	_, err = line.open(t.Context())
	require.ErrorIs(t, err, unix.EWOULDBLOCK)

	again, err := os.Open(link)
	require.NoError(t, err)
	defer func() { _ = again.Close() }()
	set, err := unix.IoctlGetTermios(int(again.Fd()), unix.TCGETS)
	require.NoError(t, err)
	require.EqualValues(t, unix.B2400, set.Cflag&unix.CBAUD)
	const sent = "S G\r \x03\x04\x11\x13\x1a\x7f\xff\r\n"
	_, err = port.WriteString(sent)
	require.NoError(t, err)
	got := make([]byte, 0, 100)
	for len(got) < len(sent) {
		n, err := taken.Read(got[len(got):cap(got)])
		require.NoError(t, err)
		got = got[:len(got)+n]
	}
	require.Equal(t, sent, string(got))
}

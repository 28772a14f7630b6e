package indicator

import (
	"context"
	"errors"
	"fmt"
	"os"

	"golang.org/x/sys/unix"
)

var speeds = map[int]uint32{
	300: unix.B300, 600: unix.B600, 1200: unix.B1200, 2400: unix.B2400, 4800: unix.B4800, 9600: unix.B9600,
	19200: unix.B19200, 38400: unix.B38400, 57600: unix.B57600, 115200: unix.B115200,
}

// open takes the port for this process alone: two readers would each get every other byte, and what is left of two lines
// can look like a third.
func (l serialLine) open(context.Context) (link, error) {
	// Not blocking, so that reads obey deadlines and closing ends them; a port without a carrier would hang otherwise.
	fd, err := unix.Open(l.path, unix.O_RDONLY|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", l.path, err)
	}
	if err := l.prepare(fd); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), l.path), nil
}

func (l serialLine) prepare(fd int) error {
	if err := unix.Flock(fd, unix.LOCK_EX|unix.LOCK_NB); err != nil {
		return fmt.Errorf("%s is read by another program: %w", l.path, err)
	}
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return fmt.Errorf("%s is no serial port: %w", l.path, err)
	}
	l.shape(t)
	if err := unix.IoctlSetTermios(fd, unix.TCSETS, t); err != nil {
		return fmt.Errorf("set %s to %d baud: %w", l.path, l.baud, err)
	}
	// What arrived before at whatever speed is not worth reading.
	if err := unix.IoctlSetInt(fd, unix.TCFLSH, unix.TCIFLUSH); err != nil {
		return fmt.Errorf("empty %s: %w", l.path, err)
	}
	return nil
}

// shape asks for raw bytes: no echo, no line editing, no flow control. A character with wrong parity comes as a zero byte,
// which makes its line unreadable.
func (l serialLine) shape(t *unix.Termios) {
	t.Iflag, t.Oflag, t.Lflag = 0, 0, 0
	t.Cflag = unix.CREAD | unix.CLOCAL | speeds[l.baud]
	t.Ispeed, t.Ospeed = speeds[l.baud], speeds[l.baud]
	if l.data == 7 {
		t.Cflag |= unix.CS7
	} else {
		t.Cflag |= unix.CS8
	}
	if l.stop == 2 {
		t.Cflag |= unix.CSTOPB
	}
	if l.parity != 'n' {
		t.Cflag |= unix.PARENB
		t.Iflag |= unix.INPCK
	}
	if l.parity == 'o' {
		t.Cflag |= unix.PARODD
	}
	t.Cc[unix.VMIN], t.Cc[unix.VTIME] = 1, 0
}

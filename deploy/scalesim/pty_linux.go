package scalesim

import (
	"errors"
	"fmt"
	"os"
	"strconv"

	"golang.org/x/sys/unix"
)

// OpenPort makes a pseudo-terminal and points link, a symbolic link, at the end to read. The other end is for a Hub; when
// it is closed, whoever reads is cut off.
func OpenPort(link string) (*os.File, error) {
	fd, err := unix.Open("/dev/ptmx", unix.O_RDWR|unix.O_NOCTTY|unix.O_NONBLOCK|unix.O_CLOEXEC, 0)
	if err != nil {
		return nil, fmt.Errorf("open a pseudo-terminal: %w", err)
	}
	slave, err := unlock(fd)
	if err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	if err := point(link, slave); err != nil {
		return nil, errors.Join(err, unix.Close(fd))
	}
	return os.NewFile(uintptr(fd), "pseudo-terminal"), nil
}

func unlock(fd int) (string, error) {
	if err := unix.IoctlSetPointerInt(fd, unix.TIOCSPTLCK, 0); err != nil {
		return "", fmt.Errorf("unlock the pseudo-terminal: %w", err)
	}
	n, err := unix.IoctlGetInt(fd, unix.TIOCGPTN)
	if err != nil {
		return "", fmt.Errorf("number of the pseudo-terminal: %w", err)
	}
	t, err := unix.IoctlGetTermios(fd, unix.TCGETS)
	if err != nil {
		return "", fmt.Errorf("settings of the pseudo-terminal: %w", err)
	}
	// Nothing is echoed before the reader has set its end: the echo would come back as if sent by it.
	t.Lflag &^= unix.ECHO | unix.ICANON
	if err := unix.IoctlSetTermios(fd, unix.TCSETS, t); err != nil {
		return "", fmt.Errorf("set the pseudo-terminal: %w", err)
	}
	return "/dev/pts/" + strconv.Itoa(n), nil
}

// point replaces the link in one step, so that there is no moment without one.
func point(link, slave string) error {
	next := link + ".next"
	if err := os.Symlink(slave, next); err != nil {
		return fmt.Errorf("link the pseudo-terminal: %w", err)
	}
	if err := os.Rename(next, link); err != nil {
		return errors.Join(fmt.Errorf("link the pseudo-terminal: %w", err), os.Remove(next))
	}
	return nil
}

package indicator

import (
	"errors"
	"net"
	"syscall"
)

// because puts what a network or a port says into words.
func because(err error) string {
	var timeout net.Error
	switch {
	case errors.Is(err, syscall.ECONNREFUSED):
		return "nothing answers at its address"
	case errors.Is(err, syscall.ECONNRESET), errors.Is(err, syscall.EIO), errors.Is(err, syscall.ENXIO), errors.Is(err, syscall.ENODEV):
		return "the connection broke"
	case errors.Is(err, syscall.EHOSTUNREACH), errors.Is(err, syscall.ENETUNREACH):
		return "the network does not reach it"
	case errors.Is(err, syscall.EWOULDBLOCK):
		return "another program reads the port"
	case errors.Is(err, syscall.ENOTTY), errors.Is(err, syscall.EINVAL):
		return "it is no serial port, or cannot be set that way"
	case errors.As(err, &timeout) && timeout.Timeout():
		return "it does not answer"
	default:
		return "the connection failed"
	}
}

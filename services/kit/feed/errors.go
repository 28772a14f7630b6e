package feed

import (
	"context"
	"errors"
	"fmt"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"barrelhead.example/services/kit/pg"
)

var (
	errDraining = errors.New("the service is stopping")
	// ErrNotYet is for an Apply that needs what another feed has not brought yet, e.g. a certificate before its barrel:
	// feeds of different services are not ordered among each other. The source waits and tries again; nothing is halted.
	ErrNotYet = errors.New("a neighbour's fact this needs has not arrived yet")
	// ErrGap means that the stream left out events. It is never passed over: the stream is opened anew.
	ErrGap = errors.New("the feed left out events")
)

// GapError says what was expected.
type GapError struct{ Expected, Got int64 }

func (e *GapError) Error() string {
	return fmt.Sprintf("%v: expected what follows %d, got what follows %d", ErrGap, e.Expected, e.Got)
}

// Is makes errors.Is(err, ErrGap) true.
func (*GapError) Is(target error) bool { return target == ErrGap }

// transient reports that the failure says nothing about the event: the same event may well succeed later. Everything
// else (undecodable, refused by a rule or a constraint, a panic) will fail again and again.
func transient(err error) bool {
	if pg.IsTransient(err) || errors.Is(err, pg.ErrConflict) || errors.Is(err, pg.ErrClosed) || notYet(err) {
		return true
	}
	var carried interface{ GRPCStatus() *status.Status }
	if !errors.As(err, &carried) {
		return false
	}
	switch carried.GRPCStatus().Code() {
	case codes.Unavailable, codes.DeadlineExceeded, codes.Canceled, codes.ResourceExhausted, codes.Aborted:
		return true
	default:
		return false
	}
}

// notYet also recognises what a domain package returns, which does not know this package.
func notYet(err error) bool {
	var typed interface{ Reason() string }
	return errors.Is(err, ErrNotYet) || (errors.As(err, &typed) && typed.Reason() == "NOT_YET_KNOWN")
}

type rebuildingKey struct{}

// Rebuilding reports that an Apply runs to fill read tables again: whatever else the event once led to has been done and
// must not be done twice.
func Rebuilding(ctx context.Context) bool {
	rebuilding, _ := ctx.Value(rebuildingKey{}).(bool)
	return rebuilding
}

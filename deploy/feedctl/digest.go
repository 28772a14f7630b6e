package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"time"

	feedv1 "barrelhead.example/proto/gen/barrelhead/feed/v1"
)

// kept is one line of a file of digests.
type kept struct {
	Service  string    `json:"service"`
	Log      string    `json:"log"`
	Sequence int64     `json:"sequence"`
	Chain    string    `json:"chain"`
	Time     time.Time `json:"time"`
}

// check verifies the log, also against digests kept elsewhere, and says what it found.
func (t *tool) check(ctx context.Context, against []*feedv1.LogDigest) (int, error) {
	answer, err := t.client.VerifyLog(ctx, &feedv1.VerifyLogRequest{Kept: against})
	if err != nil {
		return 0, err
	}
	if answer.GetBrokenSequence() > 0 {
		t.printf("%s\n", broken(answer))
		return attention, nil
	}
	t.printf("all %d events are what was recorded\n", answer.GetCheckedEvents())
	return 0, nil
}

func broken(answer *feedv1.VerifyLogResponse) string {
	return fmt.Sprintf("NOT what was recorded: event %d %s (%d events before it are)", answer.GetBrokenSequence(), answer.GetCause(), answer.GetCheckedEvents())
}

// digest prints one line to be kept where whoever may change the database cannot reach. Of a log that is not whole there is
// none, only an error: the line goes into a file.
func (t *tool) digest(ctx context.Context) (int, error) {
	answer, err := t.client.VerifyLog(ctx, &feedv1.VerifyLogRequest{})
	if err != nil {
		return 0, err
	}
	if answer.GetBrokenSequence() > 0 {
		return 0, errors.New(broken(answer))
	}
	d := answer.GetDigest()
	if d == nil {
		return 0, nil
	}
	line, err := json.Marshal(kept{t.service, d.GetLogId(), d.GetSequence(), d.GetChain(), time.Now().UTC().Truncate(time.Second)})
	if err != nil {
		return 0, err
	}
	t.printf("%s\n", line)
	return 0, nil
}

// compare verifies the log against a file of such lines; those of other services are passed over.
func (t *tool) compare(ctx context.Context) (int, error) {
	content, err := os.ReadFile(t.args[1])
	if err != nil {
		return 0, err
	}
	var against []*feedv1.LogDigest
	for lines, n := bufio.NewScanner(bytes.NewReader(content)), 1; lines.Scan(); n++ {
		var k kept
		if err := json.Unmarshal(lines.Bytes(), &k); err != nil {
			return 0, fmt.Errorf("line %d of %s is no digest: %w", n, t.args[1], err)
		}
		if k.Service == t.service {
			against = append(against, &feedv1.LogDigest{LogId: k.Log, Sequence: k.Sequence, Chain: k.Chain})
		}
	}
	if len(against) == 0 {
		return 0, errors.New("the file holds no digest of " + t.service)
	}
	return t.check(ctx, against)
}

package feedtest_test

import (
	"testing"

	"barrelhead.example/services/kit/feedtest"
)

func TestFeed(t *testing.T) {
	t.Parallel()
	feedtest.Run(t, feedtest.Subject{Schema: "intake"})
}

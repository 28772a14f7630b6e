package grading_test

import (
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	gradingv1 "barrelhead.example/proto/gen/barrelhead/grading/v1"
)

// Facts decode for ever: each file holds an event as it was once committed, with every field it then had, and what it
// means. A new event gets new files; an old file is never touched.
func TestCommittedEventsDecodeForEver(t *testing.T) {
	t.Parallel()
	events := gradingv1.File_barrelhead_grading_v1_events_proto.Messages()
	require.Positive(t, events.Len())
	for i := range events.Len() {
		name := string(events.Get(i).Name())
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			kind, err := protoregistry.GlobalTypes.FindMessageByName(protoreflect.FullName("barrelhead.grading.v1." + name))
			require.NoError(t, err)
			files, err := filepath.Glob(filepath.Join("testdata", "events", name+"-*.hex"))
			require.NoError(t, err)
			require.NotEmpty(t, files, "an event without a file")
			for _, file := range files {
				committed, err := os.ReadFile(file)
				require.NoError(t, err)
				payload, err := hex.DecodeString(strings.TrimSpace(string(committed)))
				require.NoError(t, err)
				meaning, err := os.ReadFile(strings.TrimSuffix(file, ".hex") + ".json")
				require.NoError(t, err)
				got, want := kind.New().Interface(), kind.New().Interface()
				require.NoError(t, proto.Unmarshal(payload, got))
				require.NoError(t, protojson.Unmarshal(meaning, want))
				require.True(t, proto.Equal(want, got), "%s means\n%s", file, protojson.Format(got))
				require.Empty(t, got.ProtoReflect().GetUnknown())
			}
		})
	}
}

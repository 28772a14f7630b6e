package page_test

import (
	"bytes"
	"encoding/base64"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protodesc"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/descriptorpb"
	"google.golang.org/protobuf/types/dynamicpb"
	"pgregory.net/rapid"

	"barrelhead.example/services/kit/page"
)

type key struct {
	Day    string `json:"day"`
	Number int64  `json:"number"`
}

func TestSize(t *testing.T) {
	t.Parallel()
	for req, want := range map[int32]int{0: 50, 1: 1, 50: 50, 1000: 1000, 1001: 1000, math.MaxInt32: 1000} {
		got, err := page.Size(req)
		require.NoError(t, err)
		require.Equal(t, want, got)
	}
	_, err := page.Size(-1)
	require.EqualError(t, err, "page_size is -1: it must be 0 (for 50) or from 1 to 1000")
	requireFault(t, err, "page_size")
}

func TestTokenRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		want := key{Day: rapid.String().Draw(t, "day"), Number: rapid.Int64().Draw(t, "number")}
		query := rapid.String().Draw(t, "query")
		var got key
		require.NoError(t, page.Decode(page.Encode(want, query), query, &got))
		require.Equal(t, want, got)
	})
}

func TestEmptyTokenIsTheFirstPage(t *testing.T) {
	t.Parallel()
	got := key{Day: "untouched"}
	require.NoError(t, page.Decode("", "query", &got))
	require.Equal(t, "untouched", got.Day)
}

func TestDecodeRefusals(t *testing.T) {
	t.Parallel()
	good := page.Encode(key{Day: "2026-09-14", Number: 7}, "members/M-0007")
	const damaged = "page_token cannot be read: use next_page_token as it was returned, or start again without it"
	cases := map[string]struct{ token, query, message string }{
		"not base64":    {"%%%", "members/M-0007", damaged},
		"not a token":   {"bm90IGEgdG9rZW4", "members/M-0007", damaged},
		"changed key":   {edited(t, good, `"number":7`, `"number":9`), "members/M-0007", damaged},
		"no sum":        {base64.RawURLEncoding.EncodeToString([]byte(`{"k":{"day":"","number":1},"q":""}`)), "members/M-0007", damaged},
		"cut short":     {good[:len(good)/2], "members/M-0007", damaged},
		"another key":   {page.Encode(map[string]int{"barrel": 1}, "members/M-0007"), "members/M-0007", damaged},
		"another query": {good, "members/M-0008", "page_token belongs to another query: repeat the filters of the first page, or start again without it"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var got key
			err := page.Decode(c.token, c.query, &got)
			require.EqualError(t, err, c.message)
			requireFault(t, err, "page_token")
		})
	}
}

// edited is a token in which somebody wrote another key by hand.
func edited(t *testing.T, token, was, now string) string {
	t.Helper()
	whole, err := base64.RawURLEncoding.DecodeString(token)
	require.NoError(t, err)
	require.Contains(t, string(whole), was)
	return base64.RawURLEncoding.EncodeToString(bytes.Replace(whole, []byte(was), []byte(now), 1))
}

func TestRequestMayChangeItsSizeButNotItsFilter(t *testing.T) {
	t.Parallel()
	list := listRequest(t)
	token := page.Encode(key{Number: 7}, list("open", 50, ""))
	var got key
	require.NoError(t, page.Decode(token, list("open", 200, token), &got))
	require.Equal(t, int64(7), got.Number)
	require.Error(t, page.Decode(token, list("closed", 50, token), &got))
}

func FuzzDecodeNeverPanics(f *testing.F) {
	f.Add(page.Encode(key{Number: 7}, "query"))
	f.Add("e30")
	f.Fuzz(func(t *testing.T, token string) {
		var got key
		if err := page.Decode(token, "query", &got); err != nil {
			requireFault(t, err, "page_token")
		}
	})
}

func requireFault(t *testing.T, err error, field string) {
	t.Helper()
	var fault *page.Fault
	require.ErrorAs(t, err, &fault)
	require.Equal(t, field, fault.Field())
	require.Equal(t, "FIELD_INVALID", fault.Reason())
	require.Equal(t, map[string]string{"field": field}, fault.Metadata())
}

// listRequest is made here rather than borrowed from a service, which kit may not import.
func listRequest(t *testing.T) func(filter string, size int32, token string) proto.Message {
	t.Helper()
	field := func(name string, number int32, kind descriptorpb.FieldDescriptorProto_Type) *descriptorpb.FieldDescriptorProto {
		return &descriptorpb.FieldDescriptorProto{Name: &name, Number: &number, Type: &kind, Label: descriptorpb.FieldDescriptorProto_LABEL_OPTIONAL.Enum()}
	}
	file, err := protodesc.NewFile(&descriptorpb.FileDescriptorProto{
		Name: new("list.proto"), Syntax: new("proto3"), Package: new("page.test"),
		MessageType: []*descriptorpb.DescriptorProto{{Name: new("ListRequest"), Field: []*descriptorpb.FieldDescriptorProto{
			field("filter", 1, descriptorpb.FieldDescriptorProto_TYPE_STRING),
			field("page_size", 2, descriptorpb.FieldDescriptorProto_TYPE_INT32),
			field("page_token", 3, descriptorpb.FieldDescriptorProto_TYPE_STRING),
		}}},
	}, nil)
	require.NoError(t, err)
	desc := file.Messages().Get(0)
	return func(filter string, size int32, token string) proto.Message {
		m := dynamicpb.NewMessage(desc)
		set := func(name protoreflect.Name, v any) { m.Set(desc.Fields().ByName(name), protoreflect.ValueOf(v)) }
		set("filter", filter)
		set("page_size", size)
		set("page_token", token)
		return m
	}
}

func TestCut(t *testing.T) {
	t.Parallel()
	number := func(last int) any { return last }
	for _, rows := range [][]int{nil, {3}, {3, 5}} {
		kept, next := page.Cut(rows, 2, "query", number)
		require.Equal(t, rows, kept)
		require.Empty(t, next, "there is no other page")
	}
	kept, next := page.Cut([]int{3, 5, 8}, 2, "query", number)
	require.Equal(t, []int{3, 5}, kept)
	var after int
	require.NoError(t, page.Decode(next, "query", &after))
	require.Equal(t, 5, after, "the last row served")
}

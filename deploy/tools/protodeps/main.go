// Command protodeps prints the third-party .proto files our own files import, out of the descriptors that the pinned
// Go modules carry, into the folder named by its argument. buf reads them from there; nothing third-party is committed.
package main

import (
	"fmt"
	"os"
	"strings"

	_ "buf.build/gen/go/bufbuild/protovalidate/protocolbuffers/go/buf/validate"
	"github.com/jhump/protoreflect/v2/protoprint"
	_ "google.golang.org/genproto/googleapis/api/annotations"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: protodeps FOLDER")
		os.Exit(2)
	}
	if err := run(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "protodeps:", err)
		os.Exit(1)
	}
}

func run(folder string) error {
	var files []protoreflect.FileDescriptor
	protoregistry.GlobalFiles.RangeFiles(func(fd protoreflect.FileDescriptor) bool {
		if !strings.HasPrefix(fd.Path(), "google/protobuf/") {
			files = append(files, fd)
		}
		return true
	})
	printer := protoprint.Printer{Compact: true}
	return printer.PrintProtosToFileSystem(files, folder)
}

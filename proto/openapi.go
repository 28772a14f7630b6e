// Package proto carries what was generated beside the Go code and is needed at run time.
package proto

import _ "embed"

// OpenAPI describes the REST mapping of the RPCs, Swagger 2.0, generated from the .proto files.
//
//go:embed gen/openapi/barrelhead.swagger.json
var OpenAPI []byte

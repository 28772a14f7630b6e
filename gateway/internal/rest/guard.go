package rest

import (
	"net/http"

	"barrelhead.example/gateway/internal/edge"
)

// Guard lets signed-in callers through to what is served beside the mapped RPCs, by the same rules: a change sent by a
// browser only with its form token. The visitor is in the context of next.
func Guard(door *edge.Door, next http.HandlerFunc) http.Handler {
	return (&handler{door: door}).known(next)
}

// Refuse answers with the refusal in err, in the one shape every refusal has.
func Refuse(w http.ResponseWriter, r *http.Request, err error) {
	onError(r.Context(), nil, nil, w, r, err)
}

// Answer writes a JSON body.
func Answer(w http.ResponseWriter, httpStatus int, body any) { writeJSON(w, httpStatus, body) }

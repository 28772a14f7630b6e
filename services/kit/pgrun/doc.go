// Package pgrun runs a private PostgreSQL cluster: its own data directory, its own socket, nobody else's server touched.
//
// The single-machine deployment keeps the cooperative's records in one (durable settings), and the tests share one
// (Scratch settings, thrown away afterwards). The server binaries must be installed; nothing is downloaded.
//
// A cluster belongs to the process that started it. It is restarted when it crashes, stopped fast by Stop, and the
// kernel stops it when the owning process dies, so none is left behind.
package pgrun

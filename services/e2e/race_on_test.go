//go:build race

package e2e

// raceFlag builds the killed binaries the way this test was built, so that what the compiler did for one serves the other.
const raceFlag = "-race"

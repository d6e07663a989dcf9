//go:build !race

package readings_test

// raced tells that the race detector is on.
const raced = false

//go:build race

package workbench

// racing tells that the race detector runs, under which tests that only fit and
// count take minutes.
const racing = true

//go:build race

package main

// racing tells that the race detector runs, which slows every command down
// about ten times.
const racing = true

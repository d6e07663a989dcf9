//go:build race

package archive

// The race detector slows SQLite down about twenty times.
const underRace = true

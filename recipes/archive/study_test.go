//go:build study

package archive

// faults is by how much more often the study kills and flips.
const faults = 15

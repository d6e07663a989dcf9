//go:build !study

package archive

const faults = 1

//go:build !study

package main

// everything: tests of many cases take all of them. The README's test command takes a
// sample; with the build tag study they take all.
const everything = false

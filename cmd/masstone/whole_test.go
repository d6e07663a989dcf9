//go:build study

package main

const everything = true

//go:build !race

package workbench

const racing = false

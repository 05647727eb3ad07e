//go:build !unix

package disk

const atOnce = 0

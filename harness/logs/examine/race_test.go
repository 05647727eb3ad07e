//go:build race

package examine

const raced = true

package contract

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness/setting"
)

// Settings name channels that the contract can tell apart.
func TestChannelsOfSettings(t *testing.T) { assert.Equal(t, MaxChannels, setting.MaxChannels) }

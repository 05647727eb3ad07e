package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/tools/go/packages"
)

// TestEveryPlatformIsSound lets the type checker read the program as each platform gets it, which finds what a compiler
// would refuse in a part of the time. make release builds all.
func TestEveryPlatformIsSound(t *testing.T) {
	for _, p := range platforms {
		t.Run(p.name(), func(t *testing.T) {
			t.Parallel()
			assert.Empty(t, unsound(t, p, nil))
		})
	}
}

// What is wrong on one platform only is found there.
func TestAPlatformIsFoundUnsound(t *testing.T) {
	overlay := map[string][]byte{
		"../drystage/size_arm.go":        []byte("package main\n\nconst tooLong int = 1 << 40\n"),
		"../drystage/missing_windows.go": []byte("package main\n\nimport \"golang.org/x/sys/unix\"\n\nvar _ = unix.Gettid()\n"),
	}
	for name, want := range map[string]string{"linux_armv6": "(overflows)", "windows_amd64": "undefined: unix.Gettid"} {
		for _, p := range platforms {
			if p.name() == name {
				assert.Contains(t, unsound(t, p, overlay), want)
			}
		}
	}
}

// unsound is what the type checker says against the program on a platform.
func unsound(t *testing.T, p platform, overlay map[string][]byte) string {
	absolute := map[string][]byte{}
	for name, text := range overlay {
		absolute[root(t, name)] = text
	}
	found, err := packages.Load(&packages.Config{
		Mode:    packages.NeedName | packages.NeedFiles | packages.NeedCompiledGoFiles | packages.NeedImports | packages.NeedDeps | packages.NeedTypes | packages.NeedSyntax | packages.NeedTypesInfo | packages.NeedTypesSizes | packages.NeedModule,
		Dir:     "../..",
		Env:     append(os.Environ(), "GOOS="+p.os, "GOARCH="+p.arch, "GOARM=6", "CGO_ENABLED=0"),
		Overlay: absolute,
	}, "./cmd/drystage")
	require.NoError(t, err)
	var all []string
	packages.Visit(found, nil, func(p *packages.Package) {
		for _, e := range p.Errors {
			all = append(all, e.Error())
		}
	})
	return strings.Join(all, "\n")
}

func root(t *testing.T, name string) string {
	path, err := filepath.Abs(name)
	require.NoError(t, err)
	return path
}

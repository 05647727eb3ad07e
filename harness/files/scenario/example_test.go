package scenario_test

import (
	"fmt"
	"os"

	"drystage/harness/files/scenario"
)

func ExampleLoad() {
	plan, problems := scenario.Load(os.DirFS("testdata/good"), "like.yaml")
	fmt.Println(len(problems), plan.Title, plan.Setup.Launch)
	// Output: 0 The same without faults 6.000 s
}

func ExampleLint() {
	for _, p := range scenario.Lint(os.DirFS("testdata"), "wrong/mass-negative.yaml") {
		fmt.Println(p.Error())
	}
	// Output: wrong/mass-negative.yaml:8:11: found "-480 g", wanted a mass from 0.001 kg to 1000 kg
}

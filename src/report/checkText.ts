import type { Issue } from "../core/issue.ts";
import type { TrialCheck } from "../trial/checkTrial.ts";
import { issueText } from "./issueText.ts";

export function checkText(
  check: TrialCheck,
  issues: readonly Issue[],
  _options: { readonly width?: number } = {},
): string {
  return `${check.schema}\n${issueText(issues)}`;
}

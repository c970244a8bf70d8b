"""What the outside checker of the CF conventions, compliance-checker, says of a file."""

import json
import warnings

from compliance_checker.runner import CheckSuite, ComplianceChecker


def complaints(path, conventions, folder):
    """Every message of the checker, whatever its weight; `folder` takes its report."""
    CheckSuite.load_all_available_checkers()
    report = folder / f"{path.stem}-{conventions.replace(':', '-')}.json"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the checker's own affair
        ComplianceChecker.run_checker(
            str(path), [conventions], verbose=1, criteria="strict", output_filename=str(report), output_format="json"
        )
    found = json.loads(report.read_text())[conventions]
    kinds = ("high_priorities", "medium_priorities", "low_priorities")
    return [text for kind in kinds for check in found[kind] for text in check["msgs"]]

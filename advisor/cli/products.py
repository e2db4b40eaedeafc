"""`advisor products list|show|lint`."""

from __future__ import annotations

from pathlib import Path

from advisor.base.errors import FileFormatError
from advisor.base.paths import default_database
from advisor.cli.printing import write_json
from advisor.cli.request import Call
from advisor.coatings.lint import Finding, lint
from advisor.coatings.product import CLASSES, Product
from advisor.coatings.product_file import product_to_toml
from advisor.work.product_choice import choose_product, in_list_order, known_products


def list_products(call: Call) -> int:
    """List the templates and the user's own."""
    found = in_list_order(known_products(_database(call)))
    if call.options.json:
        rows = [
            {"id": p.id, "name": p.name, "class": p.product_class, "status": p.status}
            for p in found
        ]
        write_json(call.out, {"products": rows})
        return 0
    width = max((len(p.id) for p in found), default=0)
    for p in found:
        call.out.write(f"{p.id:<{width}}  {p.name}  [{p.status}]\n")
    return 0


def show_product(call: Call) -> int:
    """Print one product as the file that would give it."""
    product = choose_product(call.options.product, _database(call))
    text = product_to_toml(product)
    if call.options.json:
        write_json(call.out, {"id": product.id, "name": product.name,
                              "class": product.product_class, "status": product.status,
                              "toml": text})  # fmt: skip
        return 0
    what = CLASSES.get(product.product_class, product.product_class)
    call.out.write(f"# {what}; {product.status}\n{text}")
    return 0


def lint_products(call: Call) -> int:
    """Look products over; 2 when one contradicts itself, since its file cannot be trusted."""
    found = [(name, lint(product)) for name, product in _to_lint(call)]
    failed = any(f.severity == "error" for _, findings in found for f in findings)
    if call.options.json:
        write_json(call.out, {"files": [_file_json(name, findings) for name, findings in found]})
    else:
        for name, findings in found:
            _print(call, name, findings)
    return 2 if failed else 0


def _to_lint(call: Call) -> list[tuple[str, Product]]:
    names: list[str] = call.options.products
    database = _database(call)
    if not names:
        return [(p.id, p) for p in in_list_order(known_products(database))]
    return [(name, choose_product(name, database)) for name in names]


def _file_json(name: str, findings: list[Finding]) -> dict[str, object]:
    rows = [{"key": f.key, "severity": f.severity, "message": f.message} for f in findings]
    return {"file": name, "findings": rows}


def _print(call: Call, name: str, findings: list[Finding]) -> None:
    if not findings:
        call.out.write(f"{name}: nothing to remark\n")
    for f in findings:
        call.out.write(f"{name}: {f.severity}: {f.key}: {f.message}\n")


def _database(call: Call) -> Path:
    named: Path | None = call.options.database
    if named is not None and not named.is_file():
        raise FileFormatError(str(named), "", "no such database", "one that is there")
    return named or default_database()

from __future__ import annotations

import tomllib

import numpy as np
import pytest

from benchapp.bench.samples import LOT, SAMPLES, files, main


@pytest.fixture(scope="module")
def made():
    return dict(files())


def test_the_command_writes_what_the_maker_gives(tmp_path, made):
    main([str(tmp_path / "deep" / "folder")])
    written = {
        path.relative_to(tmp_path / "deep" / "folder").as_posix(): path.read_bytes()
        for path in tmp_path.rglob("*")
        if path.is_file()
    }
    assert written == made


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_a_file_depends_on_its_own_seed_alone(sample, made):
    assert sample.make(np.random.default_rng(sample.seed)) == made[sample.name]
    assert sample.make(np.random.default_rng(sample.seed + 1)) != made[sample.name]


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.name)
def test_a_description_says_where_from_and_what_must_be_read(sample, made):
    about = tomllib.loads(made[f"{sample.name}.toml"].decode())
    assert about["seed"] == sample.seed
    assert "simulated bench" in about["source"]
    assert set(about["fit"]["within"]) <= set(about["true"])
    rows = [line for line in made[sample.name].splitlines() if line[:1].isdigit()]
    assert len(rows) == about["read"]["points"]
    overloads = sum(b"E+37" in row for row in rows)
    assert overloads == about["read"]["set_aside"]


def test_seeds_are_never_used_twice():
    seeds = [sample.seed for sample in SAMPLES]
    assert len(set(seeds)) == len(seeds)


def test_no_file_is_large(made):
    assert max(len(content) for content in made.values()) < 100_000
    assert sum(len(content) for content in made.values()) < 300_000


def test_every_part_of_the_lot_is_described(made):
    parts = tomllib.loads(made[f"{LOT}.toml"].decode())["parts"]
    captured = {name[len(LOT) + 1 : -4] for name in made if name.startswith(f"{LOT}/")}
    assert captured == set(parts)
    outside = {key for key, part in parts.items() if part["limits"] != "inside"}
    for key, part in parts.items():
        inside = abs(part["true"]["L"] / 1.620e-3 - 1) < 0.03 and 60 < part["true"]["Q"] < 110
        assert inside == (key not in outside)

"""Fine-tunes the encoder and trains its head, on one GPU.

    python -m models.training.train OUT --encoder ENCODER.npz --speech FOLDER --real FOLDER --noise FOLDER...

FOLDER of speech is what speech.py made; that of real recordings has the folders words, other_words and read_speech
(the tuning half of the speakers only, see clips.py). OUT gets ear.pt: the weights, and how far training went, written
every --save seconds and at the end, so that a run that is cut off can be taken up again by --resume. On several GPUs
of one machine: torchrun --nproc-per-node N -m models.training.train ...; each reads its share of the synthetic clips,
and the gradients are averaged at every step.

The loss is CTC over the letters; the distance between the states and those of the untouched encoder for the
same clip without noise, which keeps the network close to what it knew; with --apart, how far what was said fails
to be likelier, by a margin, than the likeliest of --rivals phrases that differ by one word; with --decoder, how
unlikely it is to the packaged attention decoder, which reads the states and is not changed itself; and, with
--preferred, how far it fails to lead before the same phrase there. The learning rate rises, then falls with a cosine
over the whole --seconds. What is saved is the mean of the weights over the last steps.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import time
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

import torch
import torch.distributed as dist
from torch import nn

from . import sound
from .averages import Average
from .batches import Batch, BatchMaker, Data, ahead, bank_of, batches_of
from .clips import noise_recordings, read_real, read_speech, talk_recordings
from .decoder import Decoder
from .export import read_model
from .losses import losses
from .network import LAYERS, Ear

ENCODER_RATE, HEAD_RATE = 4e-4, 2e-3
WARMING_STEPS = 300
TALKERS = 96
CLOCK_STEPS = 20
"""Steps between looks at the clock, which all GPUs share."""


@dataclass(frozen=True, slots=True)
class Share:
    """Which of the processes that train together this is."""

    number: int = 0
    of: int = 1

    @classmethod
    def of_torchrun(cls) -> Share:
        """As torchrun says in the environment; alone without it."""
        return cls(int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1")))

    def averaged(self, parameters: Sequence[nn.Parameter]) -> None:
        """Replace the gradients by their mean over all processes."""
        if self.of > 1:
            gradients = [each.grad for each in parameters if each.grad is not None]
            joined = torch.cat([each.flatten() for each in gradients])
            dist.all_reduce(joined)
            parts = (joined / self.of).split([each.numel() for each in gradients])
            for gradient, part in zip(gradients, parts, strict=True):
                gradient.copy_(part.view_as(gradient))

    def clock(self, seconds: float, device: str) -> float:
        """The seconds that the first process counts."""
        if self.of == 1:
            return seconds
        shared = torch.tensor(seconds, device=device)
        dist.broadcast(shared, 0)
        return float(shared)

    def least(self, count: int, device: str) -> int:
        """The smallest count of all processes."""
        if self.of == 1:
            return count
        shared = torch.tensor(count, device=device)
        dist.all_reduce(shared, dist.ReduceOp.MIN)
        return int(shared)


def load(given: argparse.Namespace, device: str, share: Share) -> Data:
    """Read all clips of this process's share."""
    clips = read_speech(given.speech, share.number, share.of)
    synthetic = len(clips)
    if given.real:
        clips += read_real(given.real, given.seed)
    others = talk_recordings(given.real) if given.real else []
    others += [clip for clip in clips[:synthetic] if len(clip.samples) > 2 * sound.RATE][:4000]
    hours = sum(len(clip.samples) for clip in clips) / sound.RATE / 3600
    print(f"{synthetic} synthetic clips, {len(clips) - synthetic} of real people, {hours:.2f} h", flush=True)
    chance = Random(given.seed + share.number)
    return Data(
        bank_of(clips, device),
        [clip.text for clip in clips],
        torch.from_numpy(noise_recordings(given.noise)).to(device),
        bank_of(others or clips, device),
        batches_of([len(clip.samples) for clip in clips], given.batch, chance),
    )


def rate_factor(step: int, done: float) -> float:
    """The learning rate's factor: up over the first steps, then down with a cosine as `done` goes from 0 to 1."""
    return min(1.0, (step + 1) / WARMING_STEPS) * (
        0.01 + 0.99 * 0.5 * (1 + math.cos(math.pi * min(1.0, done)))
    )


class Trainer:
    """One run of training."""

    def __init__(self, given: argparse.Namespace, device: str, share: Share) -> None:
        self.given, self.device, self.share = given, device, share
        self.ear = Ear(given.dropout, given.by_clip, given.layers).to(device)
        self.ear.load_encoder(given.encoder)
        if given.from_model:
            weights = {name: torch.from_numpy(value) for name, value in read_model(given.from_model).items()}
            self.ear.load_part(weights, str(given.from_model))
        self.average = Average(self.ear, given.average)
        self.teacher = Ear(by_clip=True).to(device).eval()
        self.teacher.load_encoder(given.encoder)
        self.decoder = Decoder(given.decoder).to(device).eval() if given.decoder else None
        head = list(self.ear.head.parameters())
        own = {id(each) for each in head}
        encoder = [each for each in self.ear.parameters() if id(each) not in own]
        groups = [{"params": encoder, "lr": ENCODER_RATE}, {"params": head, "lr": HEAD_RATE}]
        self.optimiser = torch.optim.AdamW(groups, weight_decay=1e-3, fused=device == "cuda")
        self.bases = [group["lr"] * given.rate for group in self.optimiser.param_groups]
        self.step, self.before_s = 0, 0.0
        self._seed(given.seed)

    def _seed(self, seed: int) -> None:
        """Every process draws its own lots."""
        torch.manual_seed(seed + self.share.number)

    def resume(self, path: Path) -> None:
        """Go on from a file that `save` wrote."""
        kept: dict[str, Any] = torch.load(path, map_location=self.device, weights_only=True)
        self.ear.load_state_dict(kept["ear"])
        self.average.network.load_state_dict(kept["average"])
        self.optimiser.load_state_dict(kept["optimiser"])
        self.step, self.before_s = kept["step"], kept["seconds"]
        self._seed(self.given.seed + self.step)

    def save(self, path: Path, seconds: float, optimiser: Path | None = None) -> None:
        """Write the mean of the weights (half precision), and, where `optimiser` is given, all that `resume` needs.

        The first process writes for all.
        """
        if self.share.number:
            return
        weights = {name: value.half().cpu() for name, value in self.average.network.state_dict().items()}
        torch.save({"ear": weights, "by_clip": self.given.by_clip, "seconds": seconds}, path)
        if optimiser is not None:
            both = {"ear": self.ear.state_dict(), "average": self.average.network.state_dict()}
            state = {**both, "optimiser": self.optimiser.state_dict()}
            torch.save({**state, "step": self.step, "seconds": seconds}, optimiser)

    def train(self, data: Data, until_s: float, out: Path, resume: Path) -> None:
        """Train until `until_s` seconds of training in all; the learning rate is planned for --seconds."""
        started = time.time() - self.before_s
        sums, saved_at, seconds = [0.0] * 6, time.time(), self.before_s
        self.ear.train()
        # All processes take batches of about the same length at the same time: each waits for the slowest.
        shared = self.share.least(len(data.batches), self.device)
        for batch in ahead(self._batches(data, shared), self.device):
            if self.step % CLOCK_STEPS == 0 or self.share.of == 1:
                seconds = self.share.clock(time.time() - started, self.device)
            limit = self.given.steps and self.step >= self.given.steps
            if seconds > until_s or limit:
                break
            self._step(batch, seconds, sums)
            if self.step % 500 == 0 and self.share.number == 0:
                ctc_loss, distance, lead, written, preferred = (float(each) / sums[-1] for each in sums[:-1])
                print(
                    f"step {self.step} ctc {ctc_loss:.4f} distance {distance:.4f} lead {lead:.4f} "
                    f"written {written:.4f} preferred {preferred:.4f} {seconds:.0f} s",
                    flush=True,
                )
                sums = [0.0] * 6
            if time.time() - saved_at > self.given.save:
                self.save(out, seconds)
                saved_at = time.time()
        self.save(out, seconds, resume)
        print(f"ended after {self.step} steps, {seconds:.0f} s", flush=True)

    def _batches(self, data: Data, shared: int) -> Iterator[Batch]:
        """Endless batches; their order is the same in all processes."""
        order, chance = list(range(shared)), Random(self.given.seed)
        own = Random(self.given.seed + self.share.number + self.step)
        rivals = self.given.rivals if self.given.apart > 0 else 0
        alike = json.loads(self.given.alike.read_text("utf-8")) if self.given.alike else {}
        make = BatchMaker(
            data, self.teacher, self.given.talkers, own, self.given.by_clip, rivals, self.given.limited, alike
        )
        while True:
            chance.shuffle(order)
            for number in order:
                yield make(data.batches[number])

    def _step(self, batch: Batch, seconds: float, sums: list[Any]) -> None:
        done = self.step / self.given.steps if self.given.steps else seconds / self.given.seconds
        factor = rate_factor(self.step, done)
        for group, base in zip(self.optimiser.param_groups, self.bases, strict=True):
            group["lr"] = base * factor
        found = losses(self.ear, batch, self.decoder)
        self.optimiser.zero_grad(set_to_none=True)
        more = self.given.apart * found.lead + self.given.written * found.written
        more = more + self.given.preferred * found.preferred
        (found.spelled + self.given.closeness * found.distance + more).backward()
        self.share.averaged(list(self.ear.parameters()))
        nn.utils.clip_grad_norm_(self.ear.parameters(), 1.0)
        self.optimiser.step()
        self.step += 1
        self.average.look(self.ear, self.step)
        parts = (found.spelled, found.distance, found.lead, found.written, found.preferred)
        for place, each in enumerate(parts):
            sums[place] = sums[place] + each.detach()
        sums[-1] += 1


def arguments() -> argparse.ArgumentParser:
    """The command line."""
    parser = argparse.ArgumentParser(description="Train the network.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--encoder", type=Path, required=True)
    parser.add_argument("--speech", type=Path, required=True)
    parser.add_argument("--real", type=Path)
    parser.add_argument("--noise", type=Path, nargs="+", required=True)
    parser.add_argument("--seconds", type=float, default=1000.0, help="what the learning rate is planned for")
    parser.add_argument("--until", type=float, help="stop after so many seconds of training in all")
    parser.add_argument("--steps", type=int, default=0, help="so many steps, whatever time they take")
    parser.add_argument("--batch", type=int, default=96)
    parser.add_argument("--dropout", type=float, default=0.05)
    parser.add_argument(
        "--closeness", type=float, default=0.5, help="weight of the distance to the old encoder"
    )
    parser.add_argument(
        "--apart", type=float, default=0.0, help="weight of the lead before a phrase that is near"
    )
    parser.add_argument(
        "--rivals", type=int, default=1, help="so many near phrases are tried, the worst counts"
    )
    parser.add_argument("--decoder", type=Path, help="what decoder.py wrote")
    parser.add_argument(
        "--written", type=float, default=0.3, help="weight of what the decoder makes of the states"
    )
    parser.add_argument(
        "--preferred", type=float, default=0.0, help="weight of the lead before a near phrase there"
    )
    parser.add_argument("--alike", type=Path, help="what alike.py wrote")
    parser.add_argument(
        "--limited", type=float, default=0.5, help="share of batches in which a frame does not see everything"
    )
    parser.add_argument(
        "--average", type=float, default=0.998, help="what a step leaves of the mean that is saved"
    )
    parser.add_argument("--rate", type=float, default=1.0, help="factor of both learning rates")
    parser.add_argument("--by-clip", action="store_true", help="level over the whole clip, whole sight")
    parser.add_argument("--layers", type=int, default=LAYERS, help="of the encoder; the original has six")
    parser.add_argument("--from-model", type=Path, help="begin with the weights of an exported model")
    parser.add_argument("--resume", action="store_true")
    parser.add_argument("--talkers", type=int, default=TALKERS, help="clips of other talk ready for a batch")
    parser.add_argument("--save", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--device", default="cuda")
    return parser


def main(given_arguments: Sequence[str] | None = None) -> int:
    """Train."""
    given = arguments().parse_args(given_arguments)
    torch.manual_seed(given.seed)
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.backends.cuda.enable_cudnn_sdp(False)  # it plans anew for every length, on the CPU
    given.out.mkdir(parents=True, exist_ok=True)
    share, device = Share.of_torchrun(), given.device
    if share.of > 1:
        if device == "cuda":
            torch.cuda.set_device(share.number)
        dist.init_process_group("nccl" if device == "cuda" else "gloo")
    trainer = Trainer(given, device, share)
    resume = given.out / "resume.pt"
    if given.resume:
        trainer.resume(resume)
    trainer.train(load(given, device, share), given.until or given.seconds, given.out / "ear.pt", resume)
    if share.of > 1:
        dist.destroy_process_group()
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
